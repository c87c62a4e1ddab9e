//! Wires followed on pictures whose truth is known.

#[path = "../traced/truth.rs"]
mod truth;

use wirewitness::tracing::{Follower, between};

fn main() {
    let verbose = std::env::var_os("TRACE_VERBOSE").is_some();
    for name in truth::names() {
        let (ground, known) = truth::picture(&name);
        let (mut length, mut within, mut mean, mut far, mut wires, mut pins_put, mut right) = (0.0, 0.0, 0.0, 0.0, 0.0, 0, 0);
        let start = std::time::Instant::now();
        for wire in known.wires.iter().filter(|wire| wire.can_be_followed()) {
            let pins = wire.pins(&known);
            let follower = Follower::through(&ground, &pins);
            let path: Vec<_> = follower.path().points.iter().map(|point| point.at).collect();
            let off = wire.compare(&path);
            let suggested = follower.colour(None);
            let said = suggested.map(|s| s.best.colour.to_string()).unwrap_or_default();
            let is = wire.colour();
            right += u32::from(said == is);
            if verbose || (std::env::var_os("TRACE_COLOUR").is_some() && said != is) {
                println!("   {} {is:6} {said:6} {:?}", wire.id, suggested.map(|s| (s.best.odds, s.runner_up.map(|r| (r.colour.to_string(), r.odds)), s.sure)));
            }
            if verbose {
                println!("   {} {:4} {:?} width {:.1} ({:.1}) pins {} share {:.3} mean {:.1} haus {:.1}", wire.id, wire.base, wire.tracer, wire.width(), follower.width_px(), pins.len(), off.within/off.length, off.mean_px, off.hausdorff_px);
            }
            length += off.length;
            within += off.within;
            mean += off.mean_px;
            far += off.hausdorff_px;
            wires += 1.0;
            pins_put += pins.len();
        }
        println!("{name:28} {:6} {wires} wires, {:.1} pins each: {:.1} % within; mean {:.2} px, 95 % {:.1} px; colour {:.1} %; {:.1} s", known.level, pins_put as f64 / wires, 100.0 * within / length, mean / wires, far / wires, 100.0 * f64::from(right) / wires, start.elapsed().as_secs_f64());
        let start = std::time::Instant::now();
        let terminals = known.terminals();
        let places: Vec<_> = terminals.iter().map(|terminal| terminal.px).collect();
        let proposed = between(&ground, &places, &|_| true);
        let wanted = known.between_terminals();
        let is_true = |ends: [usize; 2]| {
            let ids = ends.map(|end| terminals[end].id.as_str());
            known.wires.iter().any(|wire| ids.contains(&wire.ends[0].terminal.as_str()) && ids.contains(&wire.ends[1].terminal.as_str()))
        };
        let found = wanted.iter().filter(|wire| proposed.iter().any(|one| {
            let ids = one.ends.map(|end| terminals[end].id.as_str());
            ids.contains(&wire.ends[0].terminal.as_str()) && ids.contains(&wire.ends[1].terminal.as_str())
        })).count();
        let sure = proposed.iter().filter(|one| one.sure).count();
        let wrong = proposed.iter().filter(|one| one.sure && !is_true(one.ends)).count();
        let right = proposed.iter().filter(|one| is_true(one.ends)).count();
        println!("{:28} all wires: {found} of {} found; {} proposed, {right} right; {sure} sure, {wrong} of them wrong; {:.1} s", "", wanted.len(), proposed.len(), start.elapsed().as_secs_f64());
        if std::env::var_os("TRACE_ALL").is_some() {
            for one in &proposed {
                println!("     {} - {} sure {} {:.2} {}", terminals[one.ends[0]].id, terminals[one.ends[1]].id, one.sure, one.confidence, is_true(one.ends));
            }
            for wire in &wanted { println!("     wanted {} {} {} {}", wire.id, wire.colour(), wire.ends[0].terminal, wire.ends[1].terminal); }
        }
    }
}
