//! What one frame of the window costs the processor on a record of 10,000 wires, without a graphics adapter.
//!
//! `cargo bench --bench frame`. The goal is less than 16.6 ms for drawing and tessellating, also right after an edit:
//! checking and laying out run beside the window.

#![allow(clippy::unwrap_used, reason = "a benchmark that cannot begin has nothing to measure")]

use std::sync::Arc;
use std::time::{Duration, Instant};

use egui::Key;
use wirewitness::app::{Outside, Prefs, Shell, Stage, theme};
use wirewitness::catalogue::Catalogue;
use wirewitness::desk::{Desk, Folders};
use wirewitness::generate::invented_machine;
use wirewitness::store::text_of;

const WIRES: usize = 10_000;
const FRAMES: usize = 60;

struct Bench {
    ctx: egui::Context,
    shell: Shell,
    frame: u32,
}

impl Bench {
    /// Draws one frame with a key pressed in it and tessellates it; what the two took.
    fn frame(&mut self, key: Option<Key>) -> Duration {
        self.frame += 1;
        let press = |pressed| {
            key.map(|key| egui::Event::Key {
                key,
                physical_key: None,
                pressed,
                repeat: false,
                modifiers: egui::Modifiers::NONE,
            })
        };
        let input = egui::RawInput {
            screen_rect: Some(egui::Rect::from_min_size(egui::Pos2::ZERO, egui::vec2(1366.0, 768.0))),
            time: Some(f64::from(self.frame) / 60.0),
            events: press(true).into_iter().chain(press(false)).collect(),
            ..egui::RawInput::default()
        };
        let begun = Instant::now();
        let shell = &mut self.shell;
        let output = self.ctx.run_ui(input, |ui| shell.ui(ui));
        let meshes = self.ctx.tessellate(output.shapes.clone(), output.pixels_per_point);
        let took = begun.elapsed();
        drop(meshes);
        output.drop_without_applying_deltas();
        took
    }

    fn frames(&mut self, what: &str, before_each: impl Fn(&mut Shell, usize)) {
        let mut times: Vec<Duration> = (0..FRAMES)
            .map(|number| {
                before_each(&mut self.shell, number);
                self.frame(None)
            })
            .collect();
        times.sort();
        let ms = |time: Duration| time.as_secs_f64() * 1e3;
        let (middle, late, worst) = (times[FRAMES / 2], times[FRAMES * 95 / 100], times[FRAMES - 1]);
        println!("{what:<44} median {:6.2} ms   95 % {:6.2} ms   worst {:6.2} ms", ms(middle), ms(late), ms(worst));
    }

    fn settle(&mut self) {
        while self.shell.desk().is_deriving() || !self.shell.desk().jobs().is_empty() {
            self.frame(None);
            std::thread::sleep(Duration::from_millis(5));
        }
        self.frame(None);
    }
}

fn main() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("large.ron");
    std::fs::write(&path, text_of(&invented_machine(WIRES, 1))).unwrap();
    let ctx = egui::Context::default();
    theme::install_fonts(&ctx);
    let clock = Arc::new(|| "2026-03-02 10:15".to_owned());
    let desk = Desk::new(Catalogue::built_in().unwrap(), clock, Folders::default());
    let prefs = Prefs { cautions_read: true, ..Prefs::default() };
    let mut bench = Bench { ctx, shell: Shell::new(desk, prefs, Outside::new(None, false)), frame: 0 };
    bench.shell.desk_mut().open(&path);
    bench.settle();
    println!("{WIRES} wires, 1366 by 768 points, drawing and tessellating:");
    bench.shell.view_mut().stage = Stage::Wires;
    bench.frames("all in sight", |_, _| {});
    for _ in 0..12 {
        bench.frame(Some(Key::Plus));
    }
    for stage in Stage::ALL {
        bench.shell.view_mut().stage = stage;
        bench.frames(&format!("near, {}", stage.words()), |_, _| {});
    }
    let wire = bench.shell.desk().machine().wires.ids().nth(WIRES / 2).unwrap();
    bench.shell.view_mut().stage = Stage::Wires;
    bench.frames("near, one wire edited before every frame", |shell, number| {
        let edit = shell.desk().machine().edit_wire(wire, "Note", |wire| wire.note = number.to_string());
        shell.desk_mut().apply(edit);
    });
    let begun = Instant::now();
    bench.settle();
    println!("{:<44} {:.2} s", "until the last edit was checked", begun.elapsed().as_secs_f64());
}
