//! The one list of what a person can ask of the window. Menus, keys, the help overlay and accessible names are made from it.

use egui::{Key, KeyboardShortcut, Modifiers};

use super::stage::Stage;
use super::theme::Theme;

/// Something a person can ask for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Action {
    /// Start an empty record.
    New,
    /// Open a record.
    Open,
    /// Look at the machines of a folder.
    Machines,
    /// Practise on an invented machine.
    Practise,
    /// Save the record where it lies.
    Save,
    /// Save the record somewhere else.
    SaveAs,
    /// Put photos in.
    AddPhotos,
    /// Put the record and its photos into one file.
    Pack,
    /// Open a record that was packed into one file.
    Unpack,
    /// Leave the program.
    Quit,
    /// Take the last step back.
    Undo,
    /// Do it again.
    Redo,
    /// Select every part and wire.
    SelectAll,
    /// Select nothing; leave what was begun.
    Cancel,
    /// Make another of what is selected.
    Duplicate,
    /// Take out what is selected.
    Remove,
    /// Turn the selected parts clockwise.
    Turn,
    /// Mirror the selected parts.
    Mirror,
    /// Show the whole drawing.
    Fit,
    /// Nearer.
    ZoomIn,
    /// Further away.
    ZoomOut,
    /// Red probe to what is under the pointer.
    RedProbe,
    /// Black probe to what is under the pointer.
    BlackProbe,
    /// Write the reading into the log.
    LogReading,
    /// Follow a wire on a photo.
    FollowWire,
    /// Go to a stage.
    Go(Stage),
    /// Go to the field that searches the list.
    Search,
    /// Show or hide the list beside the rail.
    ToggleList,
    /// Show or hide the grid.
    ToggleGrid,
    /// Show or hide the photos.
    TogglePhotos,
    /// Go on from the connection diagram to both and to the ladder diagram.
    NextSheets,
    /// The page before, in the stage of the sheet.
    PageBack,
    /// The page after.
    PageForward,
    /// Put a theme on.
    Look(Theme),
    /// Larger writing.
    LargerText,
    /// Smaller writing.
    SmallerText,
    /// Touch mode on or off.
    ToggleTouch,
    /// Show the keys of the present stage.
    Help,
    /// Show what the program is and its cautions.
    About,
}

/// Where an action is listed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Group {
    /// Record.
    Record,
    /// Edit.
    Edit,
    /// Readings.
    Readings,
    /// View.
    View,
    /// Help.
    Help,
}

impl Group {
    /// All, in the order of the menus.
    pub const ALL: [Self; 5] = [Self::Record, Self::Edit, Self::Readings, Self::View, Self::Help];

    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Record => "Record",
            Self::Edit => "Edit",
            Self::Readings => "Readings",
            Self::View => "View",
            Self::Help => "Help",
        }
    }
}

impl Action {
    /// Every action, in the order they are listed.
    pub const ALL: [Self; 48] = [
        Self::New,
        Self::Open,
        Self::Machines,
        Self::Save,
        Self::SaveAs,
        Self::AddPhotos,
        Self::Pack,
        Self::Unpack,
        Self::Practise,
        Self::Quit,
        Self::Undo,
        Self::Redo,
        Self::SelectAll,
        Self::Duplicate,
        Self::Remove,
        Self::Turn,
        Self::Mirror,
        Self::FollowWire,
        Self::Search,
        Self::Cancel,
        Self::RedProbe,
        Self::BlackProbe,
        Self::LogReading,
        Self::Fit,
        Self::ZoomIn,
        Self::ZoomOut,
        Self::Go(Stage::Photos),
        Self::Go(Stage::Parts),
        Self::Go(Stage::Wires),
        Self::Go(Stage::Readings),
        Self::Go(Stage::Mysteries),
        Self::Go(Stage::Findings),
        Self::Go(Stage::Removal),
        Self::Go(Stage::Sheet),
        Self::PageBack,
        Self::PageForward,
        Self::ToggleList,
        Self::ToggleGrid,
        Self::TogglePhotos,
        Self::NextSheets,
        Self::Look(Theme::Day),
        Self::Look(Theme::Night),
        Self::Look(Theme::Sun),
        Self::LargerText,
        Self::SmallerText,
        Self::ToggleTouch,
        Self::Help,
        Self::About,
    ];

    /// What it does, as menus, the help overlay and screen readers have it.
    pub fn words(self) -> &'static str {
        match self {
            Self::New => "New record",
            Self::Open => "Open a record…",
            Self::Machines => "Machines of a folder",
            Self::Practise => "Practise on an invented machine",
            Self::Save => "Save",
            Self::SaveAs => "Save as…",
            Self::AddPhotos => "Add photos…",
            Self::Pack => "Pack record and photos into one file…",
            Self::Unpack => "Open a packed file…",
            Self::Quit => "Leave",
            Self::Undo => "Undo",
            Self::Redo => "Redo",
            Self::SelectAll => "Select all parts and wires",
            Self::Cancel => "Back to selecting",
            Self::Duplicate => "Duplicate",
            Self::Remove => "Remove",
            Self::Turn => "Turn clockwise",
            Self::Mirror => "Mirror",
            Self::Fit => "Show everything",
            Self::ZoomIn => "Nearer",
            Self::ZoomOut => "Further away",
            Self::RedProbe => "Red probe to the pointer",
            Self::BlackProbe => "Black probe to the pointer",
            Self::LogReading => "Log the reading",
            Self::FollowWire => "Follow a wire on a photo",
            Self::Go(Stage::Photos) => "Go to photos",
            Self::Go(Stage::Parts) => "Go to parts",
            Self::Go(Stage::Wires) => "Go to wires",
            Self::Go(Stage::Readings) => "Go to readings",
            Self::Go(Stage::Mysteries) => "Go to mysteries",
            Self::Go(Stage::Findings) => "Go to findings",
            Self::Go(Stage::Removal) => "Go to removal",
            Self::Go(Stage::Sheet) => "Wiring sheet, labels and lists",
            Self::PageBack => "Page before, of the sheet",
            Self::PageForward => "Page after, of the sheet",
            Self::Search => "Search the list",
            Self::ToggleList => "Show or hide the list",
            Self::ToggleGrid => "Show or hide the grid",
            Self::TogglePhotos => "Show or hide the photos",
            Self::NextSheets => "Connections, both, ladder: the next",
            Self::Look(Theme::Day) => "Day colours",
            Self::Look(Theme::Night) => "Night colours",
            Self::Look(Theme::Sun) => "Sun colours, high contrast",
            Self::LargerText => "Larger text",
            Self::SmallerText => "Smaller text",
            Self::ToggleTouch => "Touch mode, large targets",
            Self::Help => "Keys and clicks",
            Self::About => "About and cautions",
        }
    }

    /// Where it is listed.
    pub fn group(self) -> Group {
        match self {
            Self::New
            | Self::Open
            | Self::Machines
            | Self::Save
            | Self::SaveAs
            | Self::AddPhotos
            | Self::Pack
            | Self::Unpack
            | Self::Go(Stage::Sheet)
            | Self::Practise
            | Self::Quit => Group::Record,
            Self::Undo
            | Self::Redo
            | Self::SelectAll
            | Self::Cancel
            | Self::Duplicate
            | Self::Remove
            | Self::Turn
            | Self::Mirror
            | Self::FollowWire
            | Self::Search => Group::Edit,
            Self::RedProbe | Self::BlackProbe | Self::LogReading => Group::Readings,
            Self::Fit
            | Self::ZoomIn
            | Self::ZoomOut
            | Self::Go(_)
            | Self::ToggleList
            | Self::ToggleGrid
            | Self::TogglePhotos
            | Self::NextSheets
            | Self::PageBack
            | Self::PageForward
            | Self::Look(_)
            | Self::LargerText
            | Self::SmallerText
            | Self::ToggleTouch => Group::View,
            Self::Help | Self::About => Group::Help,
        }
    }

    /// The keys that ask for it; the first is the one shown.
    pub fn keys(self) -> Vec<KeyboardShortcut> {
        let key = |modifiers, key| KeyboardShortcut::new(modifiers, key);
        let (command, shifted) = (Modifiers::COMMAND, Modifiers::COMMAND.plus(Modifiers::SHIFT));
        let none = Modifiers::NONE;
        match self {
            Self::New => vec![key(command, Key::N)],
            Self::Open => vec![key(command, Key::O)],
            Self::Save => vec![key(command, Key::S)],
            Self::SaveAs => vec![key(shifted, Key::S)],
            Self::AddPhotos => vec![key(shifted, Key::O)],
            Self::Quit => vec![key(command, Key::Q)],
            Self::Undo => vec![key(command, Key::Z)],
            Self::Redo => vec![key(shifted, Key::Z), key(command, Key::Y)],
            Self::SelectAll => vec![key(command, Key::A)],
            Self::Cancel => vec![key(none, Key::Escape)],
            Self::Duplicate => vec![key(command, Key::D)],
            Self::Remove => vec![key(none, Key::Delete), key(none, Key::Backspace)],
            Self::Turn => vec![key(none, Key::R)],
            Self::Mirror => vec![key(none, Key::M)],
            Self::Fit => vec![key(none, Key::F)],
            Self::ZoomIn => vec![key(none, Key::Plus), key(none, Key::Equals)],
            Self::ZoomOut => vec![key(none, Key::Minus)],
            Self::RedProbe => vec![key(none, Key::Num1)],
            Self::BlackProbe => vec![key(none, Key::Num2)],
            Self::LogReading => vec![key(none, Key::Enter)],
            Self::FollowWire => vec![key(none, Key::T)],
            Self::Go(stage) => {
                let digits = [Key::Num1, Key::Num2, Key::Num3, Key::Num4, Key::Num5, Key::Num6, Key::Num7, Key::Num8];
                let place = Stage::ALL.iter().position(|&other| other == stage);
                let alt = place.and_then(|n| digits.get(n)).map(|&digit| key(Modifiers::ALT, digit));
                // What is printed is the sheet.
                alt.into_iter().chain((stage == Stage::Sheet).then_some(key(command, Key::P))).collect()
            }
            Self::Search => vec![key(command, Key::F)],
            Self::ToggleList => vec![key(command, Key::L)],
            Self::ToggleGrid => vec![key(none, Key::G)],
            Self::TogglePhotos => vec![key(none, Key::P)],
            Self::NextSheets => vec![key(none, Key::L)],
            Self::PageBack => vec![key(none, Key::PageUp)],
            Self::PageForward => vec![key(none, Key::PageDown)],
            Self::Machines
            | Self::Pack
            | Self::Unpack
            | Self::Practise
            | Self::Look(_)
            | Self::ToggleTouch
            | Self::About => Vec::new(),
            Self::LargerText => vec![key(command, Key::Plus), key(command, Key::Equals)],
            Self::SmallerText => vec![key(command, Key::Minus)],
            Self::Help => vec![key(none, Key::F1), key(none, Key::Questionmark)],
        }
    }

    /// Whether its keys belong to the writing while a field is being written in.
    pub fn yields_to_writing(self) -> bool {
        let own = [
            Self::New,
            Self::Open,
            Self::Save,
            Self::SaveAs,
            Self::AddPhotos,
            Self::Quit,
            Self::Cancel,
            Self::Search,
            Self::ToggleList,
            Self::LargerText,
            Self::SmallerText,
        ];
        !own.contains(&self) && !matches!(self, Self::Go(_))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_action_is_listed_once_and_no_two_share_a_key_or_a_name() {
        let mut keys = Vec::new();
        let mut names = Vec::new();
        for action in Action::ALL {
            assert_eq!(Action::ALL.iter().filter(|&&other| other == action).count(), 1, "{action:?}");
            assert!(!names.contains(&action.words()), "{action:?}");
            names.push(action.words());
            for shortcut in action.keys() {
                assert!(!keys.contains(&shortcut), "{action:?} shares {shortcut:?}");
                keys.push(shortcut);
            }
        }
        assert!(Group::ALL.iter().all(|&group| Action::ALL.iter().any(|action| action.group() == group)));
    }

    #[test]
    fn the_system_s_conventions_are_kept() {
        let command = |key| KeyboardShortcut::new(Modifiers::COMMAND, key);
        assert!(Action::Undo.keys().contains(&command(Key::Z)));
        assert!(Action::Redo.keys().contains(&command(Key::Y)));
        assert!(Action::Save.keys().contains(&command(Key::S)));
        assert!(Action::Open.keys().contains(&command(Key::O)));
        assert!(Action::New.keys().contains(&command(Key::N)));
        assert!(Action::SelectAll.keys().contains(&command(Key::A)));
    }
}
