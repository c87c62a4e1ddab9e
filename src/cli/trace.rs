//! `trace`: a wire followed on a photo from place to place, with the colour it seems to have.

use std::io::Write;
use std::sync::Arc;

use serde::Serialize;

use crate::quantity::Colour;
use crate::tracing::{Follower, Ground, Odds, PathPoint, PhotoPixels, PhotoPoint, decode, read_file};

use super::args::Trace;
use super::failure::Failure;
use super::json::{Unknown, rounded};
use super::paint::Paint;
use super::{FINE, json};

#[derive(Serialize)]
struct Answer {
    photo: String,
    size: [u32; 2],
    /// Across, down, and whether the wire is seen there.
    path: Vec<(f64, f64, bool)>,
    width_px: f64,
    length_px: f64,
    seen_share: f64,
    colour: Named,
    tracer: Option<Colour_>,
    odds: Option<f64>,
    sure: bool,
    runner_up: Option<RunnerUp>,
    caution: Option<&'static str>,
    remark: Option<String>,
}

#[derive(Serialize)]
#[serde(untagged)]
enum Named {
    Code(&'static str),
    Unknown(Unknown),
}

#[derive(Serialize)]
#[serde(transparent)]
struct Colour_(&'static str);

#[derive(Serialize)]
struct RunnerUp {
    colour: &'static str,
    tracer: Option<Colour_>,
    odds: f64,
}

const NOT_SEEN: &str = "too little of the wire is seen to tell its colour";

pub(super) fn run(what: &Trace, paint: Paint, out: &mut dyn Write) -> Result<u8, Failure> {
    let bytes = read_file(&what.photo).map_err(|why| Failure::Told(why.to_string()))?;
    let decoded = decode(&bytes).map_err(|why| Failure::with_file(&what.photo, why))?;
    let ground = Ground::of(Arc::new(PhotoPixels::of(&decoded.picture, |_| ())));
    let size = ground.size_px();
    let mut pins = vec![what.from];
    pins.extend(&what.via);
    pins.push(what.to);
    for place in pins.iter().chain(&what.grey) {
        if !(0..2).all(|axis| (0.0..f64::from(size[axis])).contains(&place[axis])) {
            let [x, y] = place;
            return Err(Failure::with_file(
                &what.photo,
                format_args!(
                    "{x},{y} lies outside the photo; it has {} × {} pixels, counted from the top left corner",
                    size[0], size[1]
                ),
            ));
        }
    }
    let follower = Follower::through(&ground, &pins);
    let path = follower.path().points;
    let suggested = follower.colour(what.grey);
    let length_px = length(&path);
    let seen: f64 = path.windows(2).filter(|pair| pair[0].seen && pair[1].seen).map(length).sum();
    let tracer = |odds: Odds| odds.colour.tracer.map(|tracer| Colour_(tracer.code()));
    let base = |odds: Odds| -> Colour { odds.colour.base };
    let answer = Answer {
        photo: what.photo.display().to_string(),
        size,
        path: path.iter().map(|point| (tenth(point.at[0]), tenth(point.at[1]), point.seen)).collect(),
        width_px: tenth(follower.width_px()),
        length_px: tenth(length_px),
        seen_share: hundredth(if length_px > 0.0 { seen / length_px } else { 0.0 }),
        colour: suggested.map_or(Named::Unknown(Unknown { unknown: NOT_SEEN }), |suggested| {
            Named::Code(base(suggested.best).code())
        }),
        tracer: suggested.and_then(|suggested| tracer(suggested.best)),
        odds: suggested.map(|suggested| hundredth(suggested.best.odds)),
        sure: suggested.is_some_and(|suggested| suggested.sure),
        runner_up: suggested.and_then(|suggested| suggested.runner_up).map(|next| RunnerUp {
            colour: base(next).code(),
            tracer: tracer(next),
            odds: hundredth(next.odds),
        }),
        caution: follower.caution(),
        remark: decoded.remark,
    };
    if what.json {
        json::write(&answer, out)?;
        return Ok(FINE);
    }
    if let Some(remark) = &answer.remark {
        writeln!(out, "{}: {remark}", answer.photo)?;
    }
    writeln!(
        out,
        "Followed for {:.0} pixels, {:.0} % of it seen; the rest is assumed.",
        answer.length_px,
        100.0 * answer.seen_share
    )?;
    match suggested {
        None => writeln!(out, "  {NOT_SEEN}")?,
        Some(suggested) => {
            let percent = 100.0 * suggested.best.odds;
            let colour = suggested.best.colour;
            let name = paint.bold(format!("{colour} ({})", colour.words()));
            match (suggested.sure, suggested.runner_up) {
                (true, _) | (false, None) => writeln!(out, "  Colour: {name}, {percent:.0} %")?,
                (false, Some(next)) => writeln!(
                    out,
                    "  Colour: unsure; {name}, {percent:.0} %, or {} ({}), {:.0} %",
                    next.colour,
                    next.colour.words(),
                    100.0 * next.odds
                )?,
            }
        }
    }
    if let Some(caution) = answer.caution {
        writeln!(out, "  {caution}")?;
    }
    for run in path.chunk_by(|a, b| a.seen == b.seen) {
        if let [first, .., last] = run {
            let how = if first.seen { "seen" } else { "hidden, assumed" };
            let [from, to] = [first.at, last.at].map(|at: PhotoPoint| format!("{:.0},{:.0}", at[0], at[1]));
            writeln!(out, "  {from} to {to}: {how}")?;
        }
    }
    out.flush()?;
    Ok(FINE)
}

fn length(path: &[PathPoint]) -> f64 {
    path.windows(2).map(|pair| (pair[1].at[0] - pair[0].at[0]).hypot(pair[1].at[1] - pair[0].at[1])).sum()
}

fn tenth(value: f64) -> f64 {
    rounded((value * 10.0).round() / 10.0)
}

fn hundredth(value: f64) -> f64 {
    rounded((value * 100.0).round() / 100.0)
}
