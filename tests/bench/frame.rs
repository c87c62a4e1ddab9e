//! What one frame of the window costs the processor on a record of 10,000 wires, without a graphics adapter.
//!
//! `cargo bench --bench frame`. The goal is less than 16.6 ms for drawing and tessellating, also right after an edit:
//! checking and laying out run beside the window.

#![allow(clippy::unwrap_used, reason = "a benchmark that cannot begin has nothing to measure")]

use std::sync::Arc;
use std::time::{Duration, Instant};

use egui::Key;
use wirewitness::app::{Outside, Prefs, Shell, Stage, theme};
use wirewitness::catalogue::{Catalogue, Style};
use wirewitness::desk::{Desk, Folders};
use wirewitness::drawing::Diagram;
use wirewitness::generate::invented_machine;
use wirewitness::machine::Machine;
use wirewitness::store::text_of;

const WIRES: usize = 10_000;
const FRAMES: usize = 60;
const ARRIVALS: usize = 12;

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
        let times = (0..FRAMES).map(|number| {
            before_each(&mut self.shell, number);
            self.frame(None)
        });
        say(what, times.collect());
    }

    /// Only the frames in which the results of an edit come in, a new drawing among them.
    fn arrivals(&mut self, what: &str, edit: impl Fn(&mut Shell, usize)) {
        let times = (0..ARRIVALS).map(|number| {
            edit(&mut self.shell, number);
            // The results are taken in by the frame; the time to make them is not known before.
            let begun = Instant::now();
            loop {
                std::thread::sleep(Duration::from_millis(20));
                let before = self.shell.desk().derived().revision;
                let took = self.frame(None);
                if self.shell.desk().derived().revision != before || begun.elapsed() > Duration::from_secs(30) {
                    break took;
                }
            }
        });
        say(what, times.collect());
    }

    /// Frames in each of which a key changes the scale, so that everything in sight is made anew.
    fn moving_frames(&mut self, what: &str, keys: &[Key]) {
        let times = (0..FRAMES).map(|number| {
            self.frame(Some(keys[number % keys.len()]));
            self.frame(None)
        });
        say(what, times.collect());
    }

    fn settle(&mut self) {
        while self.shell.desk().is_deriving() || !self.shell.desk().jobs().is_empty() {
            self.frame(None);
            std::thread::sleep(Duration::from_millis(5));
        }
        self.frame(None);
    }
}

fn say(what: &str, mut times: Vec<Duration>) {
    times.sort();
    let ms = |time: Duration| time.as_secs_f64() * 1e3;
    let (middle, late, worst) = (times[times.len() / 2], times[times.len() * 95 / 100], times[times.len() - 1]);
    println!("{what:<56} median {:6.2} ms   95 % {:6.2} ms   worst {:6.2} ms", ms(middle), ms(late), ms(worst));
}

/// What laying out the drawing costs. It runs beside the window.
fn layouts(machine: &Machine, catalogue: &Arc<Catalogue>) {
    let mut diagram = Diagram::default();
    let mut layout = |what: &str, machine: &Machine| {
        let begun = Instant::now();
        diagram.lay_out(machine, catalogue, Style::Iec);
        println!("{what:<56} {:6.2} ms", begun.elapsed().as_secs_f64() * 1e3);
    };
    layout("layout, first", machine);
    let mut moved = machine.clone();
    let part = moved.parts.ids().nth(moved.parts.len() / 2).unwrap();
    for step in 1_u8..=3 {
        let by = f64::from(step);
        moved.apply(moved.edit_part(part, "Move", |part| part.pose.at = part.pose.at.moved(by, by)));
        layout("layout, after a part was moved", &moved);
    }
}

fn main() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("large.ron");
    let machine = invented_machine(WIRES, 1);
    std::fs::write(&path, text_of(&machine)).unwrap();
    let ctx = egui::Context::default();
    theme::install_fonts(&ctx);
    let clock = Arc::new(|| "2026-03-02 10:15".to_owned());
    let catalogue = Catalogue::built_in().unwrap();
    layouts(&machine, &catalogue);
    let desk = Desk::new(catalogue, clock, Folders::default());
    let prefs = Prefs { cautions_read: true, ..Prefs::default() };
    let mut bench = Bench { ctx, shell: Shell::new(desk, prefs, Outside::new(None, false)), frame: 0 };
    bench.shell.desk_mut().open(&path);
    bench.settle();
    println!("{WIRES} wires, 1366 by 768 points, drawing and tessellating:");
    bench.shell.view_mut().stage = Stage::Wires;
    let wire = bench.shell.desk().machine().wires.ids().nth(WIRES / 2).unwrap();
    let edit = |shell: &mut Shell, number: usize| {
        let edit = shell.desk().machine().edit_wire(wire, "Note", |wire| wire.note = number.to_string());
        shell.desk_mut().apply(edit);
    };
    let conditions: Vec<_> = bench.shell.desk().machine().conditions.ids().collect();
    for condition in [conditions[0], conditions[1]] {
        let name = bench.shell.desk().machine().conditions.get(condition).unwrap().name.clone();
        bench.shell.desk_mut().set_condition(Some(condition));
        bench.settle();
        bench.frames(&format!("all in sight, {name}"), |_, _| {});
        bench.frames(&format!("all in sight, {name}, edit before each"), edit);
        bench.settle();
        bench.arrivals(&format!("all in sight, {name}, results come in"), edit);
        bench.moving_frames(&format!("all in sight, {name}, scale changes"), &[Key::Plus, Key::Minus]);
    }
    bench.moving_frames("from far to near and back", &[[Key::Plus; 15], [Key::Minus; 15]].concat());
    for _ in 0..12 {
        bench.frame(Some(Key::Plus));
    }
    for stage in Stage::ALL {
        bench.shell.view_mut().stage = stage;
        bench.frames(&format!("near, {}", stage.words()), |_, _| {});
    }
    bench.shell.view_mut().stage = Stage::Wires;
    bench.moving_frames("near, scale changes", &[Key::Plus, Key::Minus]);
    bench.frames("near, edit before each", edit);
    let begun = Instant::now();
    bench.settle();
    println!("{:<56} {:6.2} s", "until the last edit was checked", begun.elapsed().as_secs_f64());
}
