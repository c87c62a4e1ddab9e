//! What the typesetter may see: our own layout, the record as data, its pictures, the typeface, and the folder of a shop's template.

use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::LazyLock;

use typst::diag::{FileError, FileResult};
use typst::foundations::{Bytes, Datetime, Duration};
use typst::syntax::{FileId, RootedPath, Source, VirtualPath, VirtualRoot};
use typst::text::{Font, FontBook};
use typst::utils::LazyHash;
use typst::{Library, LibraryExt, World};

/// The layout as it comes with the program.
const LAYOUT: &str = include_str!("../../../assets/sheet/wirewitness.typ");

/// The typeface of the window, so that both read the same.
const FACES: [&[u8]; 2] =
    [include_bytes!("../../../assets/fonts/B612-Regular.otf"), include_bytes!("../../../assets/fonts/B612-Bold.otf")];

/// No file of a template is larger than this, in bytes.
const LARGEST: u64 = 50_000_000;

static FONTS: LazyLock<(LazyHash<FontBook>, Vec<Font>)> = LazyLock::new(|| {
    let fonts: Vec<Font> = FACES.iter().flat_map(|face| Font::iter(Bytes::new(*face))).collect();
    (LazyHash::new(FontBook::from_fonts(&fonts)), fonts)
});

static LIBRARY: LazyLock<LazyHash<Library>> = LazyLock::new(|| LazyHash::new(Library::default()));

/// The world of one sheet.
pub(super) struct PaperWorld {
    main: FileId,
    main_source: Source,
    layout: Source,
    /// Data and pictures, by their names below `/ww/`.
    files: BTreeMap<String, Bytes>,
    /// Where a shop's template lies.
    folder: Option<PathBuf>,
}

impl PaperWorld {
    pub(super) fn new(
        call: String,
        json: Vec<u8>,
        pictures: BTreeMap<String, Vec<u8>>,
        folder: Option<PathBuf>,
    ) -> Self {
        let main = own("main.typ");
        let layout = Source::new(own("wirewitness.typ"), LAYOUT.to_owned());
        let mut files: BTreeMap<String, Bytes> =
            pictures.into_iter().map(|(name, bytes)| (name, Bytes::new(bytes))).collect();
        files.insert("record.json".to_owned(), Bytes::new(json));
        Self { main, main_source: Source::new(main, call), layout, files, folder }
    }

    /// What a file is called in messages.
    pub(super) fn name_of(&self, id: FileId) -> String {
        let path = id.get().vpath().get_without_slash().to_owned();
        match &self.folder {
            Some(folder) if !path.starts_with("ww/") => folder.join(path).display().to_string(),
            _ => path,
        }
    }

    /// A file of the shop's folder. Nothing outside of it is read, through links neither.
    fn of_folder(&self, id: FileId) -> FileResult<Vec<u8>> {
        let path = id.get().vpath();
        let missing = || FileError::NotFound(PathBuf::from(path.get_without_slash()));
        let (VirtualRoot::Project, Some(folder)) = (id.get().root(), &self.folder) else { return Err(missing()) };
        let root = folder.canonicalize().map_err(|why| FileError::from_io(why, folder))?;
        let file = path.realize(&root).map_err(FileError::Realize)?;
        let real = file.canonicalize().map_err(|why| FileError::from_io(why, &file))?;
        if !real.starts_with(&root) {
            return Err(FileError::AccessDenied);
        }
        let size = std::fs::metadata(&real).map_err(|why| FileError::from_io(why, &real))?;
        if !size.is_file() {
            return Err(FileError::IsDirectory);
        }
        if size.len() > LARGEST {
            return Err(FileError::Other(Some("the file is too large for a template".into())));
        }
        std::fs::read(&real).map_err(|why| FileError::from_io(why, &real))
    }
}

/// The number of a file of ours.
#[expect(clippy::expect_used, reason = "the names are constants of this room, and each of its tests makes them")]
fn own(name: &str) -> FileId {
    let path = VirtualPath::new(format!("/ww/{name}")).expect("a plain name is a path");
    RootedPath::new(VirtualRoot::Project, path).intern()
}

impl World for PaperWorld {
    fn library(&self) -> &LazyHash<Library> {
        &LIBRARY
    }

    fn book(&self) -> &LazyHash<FontBook> {
        &FONTS.0
    }

    fn main(&self) -> FileId {
        self.main
    }

    fn source(&self, id: FileId) -> FileResult<Source> {
        if id == self.main {
            return Ok(self.main_source.clone());
        }
        if id == self.layout.id() {
            return Ok(self.layout.clone());
        }
        let text = String::from_utf8(self.of_folder(id)?).map_err(|_| FileError::InvalidUtf8)?;
        Ok(Source::new(id, text.strip_prefix('\u{feff}').map(str::to_owned).unwrap_or(text)))
    }

    fn file(&self, id: FileId) -> FileResult<Bytes> {
        let path = id.get().vpath().get_without_slash();
        match path.strip_prefix("ww/") {
            Some(name) => self.files.get(name).cloned().ok_or_else(|| FileError::NotFound(PathBuf::from(path))),
            None => self.of_folder(id).map(Bytes::new),
        }
    }

    fn font(&self, index: usize) -> Option<Font> {
        FONTS.1.get(index).cloned()
    }

    /// There is no clock here: dates stand in the record.
    fn today(&self, _: Option<Duration>) -> Option<Datetime> {
        None
    }
}
