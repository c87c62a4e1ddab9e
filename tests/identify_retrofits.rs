//! Invented retrofits found out by following the proposals, against a hidden machine that shares nothing with the program.
//!
//! What is held here: every mystery comes out right or is rightly said not to be told apart; nothing forbidden is asked for; no live reading where
//! a dead one tells about as much; fewer readings than the usual order by hand. A truth that is no candidate becomes 'none of these'.
//! The default run takes a part of the machines; `cargo test --release --no-default-features --test identify_retrofits -- --ignored
//! --nocapture` takes all.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking, its helpers too")]

mod oracle;

use std::collections::BTreeMap;

use oracle::drive::{by_hand, follow};
use oracle::{Drawn, Oracle};
use wirewitness::catalogue::Catalogue;
use wirewitness::generate::{Retrofit, Size, retrofit};

fn first(seeds: impl Iterator<Item = u64>) {
    let catalogue = Catalogue::built_in().unwrap();
    for seed in seeds {
        let Retrofit { record, truth } = retrofit(seed, Size::of_seed(seed));
        let mut hidden = Oracle::new(&truth.record, &catalogue, &BTreeMap::new(), Drawn::Anyhow(seed));
        let start = std::time::Instant::now();
        let followed = follow(&record, &mut hidden, &catalogue, &truth.answers, 60, &mut |_, p, _| {
            if std::env::var("SHOW").is_ok() {
                println!(
                    "   {:?} {:?} {} -> {} bits {:.2} effort {} whole {:.2}",
                    p.risk,
                    p.place.function,
                    record.spot_name(&p.place.red),
                    p.place.black.as_ref().map(|b| record.spot_name(b)).unwrap_or_default(),
                    p.settles_bits,
                    p.effort,
                    p.whole_effort
                );
            }
        });
        if std::env::var("SHOW").is_ok() {
            let reasoned = wirewitness::identify::Reasoned::of(&followed.record, &catalogue);
            for one in reasoned.mysteries(&followed.record) {
                let m = record.mysteries.get(one.mystery).unwrap();
                let name = |g: &wirewitness::machine::Guess| match g {
                    wirewitness::machine::Guess::Terminal(t) => record.terminal_name(t),
                    other => format!("{other:?}"),
                };
                println!(
                    "   = {} right {} {:?} none {:.3}",
                    m.name,
                    name(&m.candidates[truth.answers[&one.mystery]].guess),
                    m.candidates
                        .iter()
                        .zip(&one.candidates)
                        .map(|(c, o)| format!("{} {:.3}", name(&c.guess), o.odds))
                        .collect::<Vec<_>>(),
                    one.none_of_these
                );
            }
            for r in followed.record.readings.values() {
                println!(
                    "   R {} {} {} {:?}",
                    record.spot_name(&r.red),
                    r.black.as_ref().map(|b| record.spot_name(b)).unwrap_or_default(),
                    record.conditions.get(r.condition.unwrap()).unwrap().name,
                    r.value
                );
            }
            println!(
                "   faults {:?}",
                truth.faults.iter().map(|(s, w)| format!("{} {w}", record.spot_name(s))).collect::<Vec<_>>()
            );
            std::fs::write(format!("/tmp/retro{seed}.ron"), wirewitness::store::text_of(&followed.record)).unwrap();
        }
        let hand = by_hand(&record, &mut Oracle::new(&truth.record, &catalogue, &BTreeMap::new(), Drawn::Anyhow(seed)));
        let open = followed.settled.values().filter(|s| s.is_none()).count();
        let wrong: Vec<_> = followed
            .settled
            .iter()
            .filter(|(id, s)| s.is_some_and(|s| s != truth.answers[id]))
            .map(|(id, s)| (record.mysteries.get(*id).unwrap().name.clone(), *s))
            .collect();
        println!(
            "{seed} {}: {} mysteries, {} readings, hand {hand}, open {open}, none {:.3}, wrong {wrong:?} way {:?} under {:?} forb {:?} risk {:?} slow {:?} all {:?} ended {}",
            record.facts.title,
            record.mysteries.len(),
            followed.readings,
            followed.none_of_these,
            followed.wrong_on_the_way,
            followed.understated,
            hidden.log.forbidden,
            hidden.log.by_risk,
            followed.slowest,
            start.elapsed(),
            followed.ended
        );
    }
}

#[test]
fn scratch() {
    let from: u64 = std::env::var("FROM").ok().and_then(|v| v.parse().ok()).unwrap_or(0);
    let to: u64 = std::env::var("TO").ok().and_then(|v| v.parse().ok()).unwrap_or(5);
    first(from..to);
}
