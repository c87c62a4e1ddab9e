//! Wires followed on pictures whose truth is known.

#[path = "../traced/truth.rs"]
mod truth;

use wirewitness::tracing::Follower;

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
    }
}
