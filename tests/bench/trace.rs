//! Wires followed on pictures whose truth is known.

#[path = "../traced/truth.rs"]
mod truth;

use wirewitness::tracing::Follower;

fn main() {
    let verbose = std::env::var_os("TRACE_VERBOSE").is_some();
    for name in truth::names() {
        let (ground, known) = truth::picture(&name);
        let (mut length, mut within, mut mean, mut far, mut wires, mut pins_put) = (0.0, 0.0, 0.0, 0.0, 0.0, 0);
        let start = std::time::Instant::now();
        for wire in known.wires.iter().filter(|wire| wire.can_be_followed()) {
            let pins = wire.pins(&known);
            let follower = Follower::through(&ground, &pins);
            let path: Vec<_> = follower.path().points.iter().map(|point| point.at).collect();
            let off = wire.compare(&path);
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
        println!("{name:28} {:6} {wires} wires, {:.1} pins each: {:.1} % within; mean {:.2} px, 95 % {:.1} px; {:.1} s", known.level, pins_put as f64 / wires, 100.0 * within / length, mean / wires, far / wires, start.elapsed().as_secs_f64());
    }
}
