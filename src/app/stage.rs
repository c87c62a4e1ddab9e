//! The stages of a visit: what the list beside the rail shows, and what a click on the canvas means.

/// A stage of a visit. Stages are offered as soon as the program can do them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum Stage {
    /// Photos: put in, upright, scaled.
    #[default]
    Photos,
    /// Parts: placed, marked.
    Parts,
    /// Wires: drawn, coloured, ended.
    Wires,
    /// Readings: taken, kept.
    Readings,
    /// Mysteries: what is not known, with candidates.
    Mysteries,
    /// Findings: what is wrong or doubtful, with decisions.
    Findings,
    /// Removal: what may be taken out, proved, and the order of work.
    Removal,
    /// Sheet: the wiring sheet, labels and lists, as they go on paper and into files.
    Sheet,
}

impl Stage {
    /// All, in the order of the visit.
    pub const ALL: [Self; 8] = [
        Self::Photos,
        Self::Parts,
        Self::Wires,
        Self::Readings,
        Self::Mysteries,
        Self::Findings,
        Self::Removal,
        Self::Sheet,
    ];

    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Photos => "Photos",
            Self::Parts => "Parts",
            Self::Wires => "Wires",
            Self::Readings => "Readings",
            Self::Mysteries => "Mysteries",
            Self::Findings => "Findings",
            Self::Removal => "Removal",
            Self::Sheet => "Sheet",
        }
    }

    /// What its count counts, for the person who asks: open things, not totals.
    pub fn open_words(self) -> &'static str {
        match self {
            Self::Photos => "photos without a scale of their own",
            Self::Parts => "parts of an unknown kind",
            Self::Wires => "wires with an end that is loose, lifted or unknown",
            Self::Readings => "readings without a condition",
            Self::Mysteries => "mysteries that are open",
            Self::Findings => "findings without a decision",
            Self::Removal => "wires that may go by the record",
            Self::Sheet => "wires that go on paper with an assumed end",
        }
    }

    /// What a click on the canvas does in this stage.
    pub fn click_words(self) -> &'static str {
        match self {
            Self::Photos => "Click a photo to select it; drag it to where it belongs.",
            Self::Parts => "Choose a kind, then click where the part sits. Click a part to select it.",
            Self::Wires => {
                "Click a terminal to begin a wire, click for a bend, click a terminal to end it. T follows a wire on a photo."
            }
            Self::Readings => "Click a terminal for the red probe, another for the black one.",
            Self::Mysteries => "Click a wire end, a part or a terminal that is not known for certain.",
            Self::Findings => "Click a flag to read its finding.",
            Self::Removal => "Click a wire for its verdict; put it on the plan on its card.",
            Self::Sheet => {
                "Make the pages and read them here, then save or print them. Page Up and Page Down turn them."
            }
        }
    }
}
