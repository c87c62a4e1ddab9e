//! Pictures of the window for a person to look at, in target/pictures. Nothing is compared.

use std::path::PathBuf;

use wirewitness::app::theme::Theme;
use wirewitness::app::{Prefs, Stage};

use crate::person::{Person, diagram, prefs};

fn folder() -> PathBuf {
    // The folder that cargo gives tests for their files lies in target.
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR"));
    let folder = folder.parent().map_or_else(|| folder.clone(), |target| target.join("pictures"));
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

#[test]
fn pictures_of_every_stage_are_drawn_where_this_computer_can_draw() {
    for theme in Theme::ALL {
        for size in [(1366.0, 768.0), (1024.0, 768.0)] {
            let Some(mut person) = Person::with_pictures(size, Prefs { theme, ..prefs() }) else {
                eprintln!(
                    "skipped: this computer has no graphics adapter, not even a software one, to draw pictures with"
                );
                return;
            };
            person.harness.state_mut().desk_mut().open(&diagram("pantry-locker.ron"));
            person.look();
            for stage in Stage::ALL {
                person.go(stage);
                let Ok(picture) = person.harness.render() else {
                    eprintln!("skipped: no picture can be drawn here");
                    return;
                };
                let name = format!("{}-{}-{}.png", theme.words(), stage.words(), size.0).to_lowercase();
                picture.save(folder().join(name)).unwrap();
            }
        }
    }
}
