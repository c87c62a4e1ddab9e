//! The desk's part of paper: pages laid out as they are asked for, painted one by one, written into files.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::sheet::{Identity, PagePicture};
use crate::store::{self, Packed};

use super::files::write;
use super::{ListFile, PageForm, PaperOrder, Print, PrintedPages, Subject, ToWrite, Written, list_file, write_pages};
use crate::desk::files::Outcome;
use crate::desk::jobs::{Event, JobId, Manner, or_broken};
use crate::desk::session::Desk;

/// So many painted pages are kept: the one that is looked at and its neighbours.
const MOST_PICTURES: usize = 3;

/// Pages laid out of the record as it was at one moment.
#[derive(Debug)]
pub struct LaidPages {
    wanted: Wanted,
    /// What was ordered.
    pub order: PaperOrder,
    /// Width and height of each page in millimetres.
    pub sizes_mm: Vec<[f64; 2]>,
    /// Letters that come out as boxes.
    pub letters_missing: String,
    pages: PrintedPages,
}

impl LaidPages {
    /// The record they are of.
    pub fn revision(&self) -> u64 {
        self.wanted.revision
    }
}

/// How it stands with pages that are asked for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum PagesState {
    /// Nobody asked for them, or the work on them was stopped.
    NotAsked,
    /// They are being made.
    Working,
    /// They are there.
    Ready,
    /// They could not be made: why, and what to do.
    Failed(String),
}

/// Pages on the desk.
#[derive(Default)]
pub(in crate::desk) struct Papers {
    laid: Option<Arc<LaidPages>>,
    /// What was asked for last.
    asked: Option<Wanted>,
    /// The job that is at it.
    job: Option<JobId>,
    failed: Option<String>,
    /// Pages that were painted, by number: of these pages, with so many dots to the inch.
    pictures: BTreeMap<usize, Painted>,
    painting: bool,
    /// The page that could not be painted: of which pages, with how many dots. It is not tried again.
    unpaintable: Option<(u64, usize, u32)>,
    /// Rises with every layout.
    number: u64,
    /// Rises with every look at a picture.
    used: u64,
}

struct Painted {
    of: u64,
    dots: u32,
    picture: Arc<PagePicture>,
    /// When it was asked for last.
    used: u64,
}

/// Pages of what, and what they call it: saved or not, under which name.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::desk) struct Wanted {
    revision: u64,
    order: PaperOrder,
    id: String,
    /// The hash of the file that holds the record as it is; none where no file does.
    hash: Option<String>,
}

/// What a job on paper hands over.
pub(in crate::desk) enum PaperOutcome {
    Laid { asked: Wanted, result: Result<Option<Box<LaidPages>>, String> },
    Painted { of: u64, page: usize, dots: u32, result: Result<PagePicture, String> },
    Written { what: String, to_view: bool, result: Result<Option<Written>, String> },
    Packed { result: Result<Packed, String> },
    Unpacked { result: Result<Packed, String> },
}

/// What pages are made of, owned by the job that makes them.
struct Task {
    machine: Arc<crate::machine::Machine>,
    catalogue: Arc<crate::catalogue::Catalogue>,
    name: String,
    photos: Vec<crate::desk::pictures::PhotoHome>,
    wanted: Wanted,
}

impl Task {
    fn lay_out(&self, go_on: &(dyn Fn(f64) -> bool + Sync)) -> Result<Option<Box<LaidPages>>, String> {
        let Wanted { id, hash, order, .. } = &self.wanted;
        let identity = match hash {
            Some(hash) => Identity::new(id, hash),
            // The revision it has as soon as it is saved as it is.
            None => Identity::new(id, &store::hash_of(store::text_of(&self.machine).as_bytes())).not_saved(),
        };
        let beside: Vec<PathBuf> = self.photos.iter().map(|home| home.record.clone()).collect();
        let subject = Subject {
            machine: &self.machine,
            catalogue: &self.catalogue,
            identity,
            name: self.name.clone(),
            photos_beside: &beside,
        };
        let pages = or_broken(|| PrintedPages::of(&subject, order, go_on))?;
        Ok(pages.map(|pages| {
            Box::new(LaidPages {
                wanted: self.wanted.clone(),
                order: order.clone(),
                sizes_mm: pages.sizes_mm(),
                letters_missing: pages.letters_missing(),
                pages,
            })
        }))
    }
}

impl Desk {
    /// Has pages made of the record as it is, unless that has been asked for. Work on others is ended first.
    pub fn make_pages(&mut self, order: &PaperOrder) {
        let asked = self.wanted(order);
        if self.worked.papers.asked.as_ref() == Some(&asked) {
            return;
        }
        if let Some(job) = self.worked.papers.job.filter(|&job| self.jobs.is_running(job)) {
            // One at a time: this is asked again as long as it is wanted.
            self.cancel(job);
            return;
        }
        let own = self.ordered(order);
        let papers = &mut self.worked.papers;
        (papers.asked, papers.failed) = (Some(asked.clone()), None);
        self.worked.papers.job =
            self.start_job(&format!("Making {}", words(order.print)), Manner::InTurn, move |watch| {
                let result = own.lay_out(&|share| {
                    watch.progress(share);
                    !watch.is_stopped()
                });
                Outcome::Paper(Box::new(PaperOutcome::Laid { asked, result }))
            });
        if self.worked.papers.job.is_none() {
            self.worked.papers.failed = Some("the system would not start more work; close something".to_owned());
        }
    }

    /// Has pages made anew by the next [`Self::make_pages`], also those that are there or failed: a template or a photo may have been put
    /// right meanwhile.
    pub fn forget_asked_pages(&mut self) {
        let papers = &mut self.worked.papers;
        (papers.asked, papers.laid, papers.failed, papers.unpaintable) = (None, None, None, None);
    }

    /// Ends the work on pages; those that are there stay.
    pub fn stop_pages(&mut self) {
        if let Some(job) = self.worked.papers.job {
            self.cancel(job);
        }
        self.worked.papers.asked = None;
    }

    /// The job that makes pages.
    pub fn pages_job(&self) -> Option<JobId> {
        self.worked.papers.job
    }

    /// The pages that were made last.
    pub fn pages(&self) -> Option<&Arc<LaidPages>> {
        self.worked.papers.laid.as_ref()
    }

    /// How it stands with pages of the record as it is.
    pub fn pages_state(&self, order: &PaperOrder) -> PagesState {
        let papers = &self.worked.papers;
        if self.pages_ready(order).is_some() {
            return PagesState::Ready;
        }
        if papers.asked.as_ref() == Some(&self.wanted(order)) {
            papers.failed.clone().map_or(PagesState::Working, PagesState::Failed)
        } else {
            PagesState::NotAsked
        }
    }

    fn pages_ready(&self, order: &PaperOrder) -> Option<&Arc<LaidPages>> {
        let wanted = self.wanted(order);
        self.pages().filter(|laid| laid.wanted == wanted)
    }

    /// A page of those that are there, painted with so many dots to the inch, from 0. While that is under way, what is there of the page.
    pub fn page_picture(&mut self, page: usize, dots: u32) -> Option<Arc<PagePicture>> {
        let papers = &mut self.worked.papers;
        let laid = Arc::clone(papers.laid.as_ref()?);
        let of = papers.number;
        papers.used += 1;
        let used = papers.used;
        let mut there = None;
        if let Some(painted) = papers.pictures.get_mut(&page) {
            painted.used = used;
            there = Some(Arc::clone(&painted.picture));
            if painted.of == of && painted.dots == dots {
                return there;
            }
        }
        if !papers.painting && papers.unpaintable != Some((of, page, dots)) && page < laid.sizes_mm.len() {
            papers.painting = true;
            let started = self.start(&format!("Painting page {}", page + 1), Manner::Quietly, move |_| {
                let result = or_broken(|| laid.pages.picture(page, f64::from(dots)));
                Outcome::Paper(Box::new(PaperOutcome::Painted { of, page, dots, result }))
            });
            self.worked.papers.painting = started;
        }
        there
    }

    /// Writes something into a file, of the record as it is. A file that is there is replaced.
    pub fn write_out(&mut self, what: ToWrite, to: &Path) {
        match what {
            ToWrite::Pages(order, form) => self.write_pages_to(&order, form, to.to_owned(), false),
            ToWrite::List(list) => self.write_list(list, to.to_owned()),
            ToWrite::Pack => self.pack(to.to_owned()),
        }
    }

    /// Writes pages as a PDF into a passing folder, for the program of this system that shows and prints them: [`Event::ToView`] says where.
    pub fn write_to_view(&mut self, order: &PaperOrder) {
        let folder = tempfile::Builder::new().prefix("wirewitness-").tempdir();
        let folder = match folder {
            // It stays: whatever shows the file may be open longer than this program is.
            Ok(folder) => folder.keep(),
            Err(why) => {
                let why = format!("no passing folder can be made for it ({why}); save it as PDF and open that file");
                self.fail("Opening in the viewer", &why);
                return;
            }
        };
        let name =
            format!("{}-{}.pdf", self.file_words(), if order.print == Print::Labels { "labels" } else { "sheet" });
        self.write_pages_to(order, PageForm::Pdf, folder.join(name), true);
    }

    /// A name for a file of this record, without ending: that of its own file, else of what it is called.
    pub fn file_words(&self) -> String {
        if let Some(stem) = self.path().and_then(Path::file_stem) {
            return stem.to_string_lossy().into_owned();
        }
        let title = self.machine.facts.title.trim();
        let title = if title.is_empty() { "machine" } else { title };
        title.chars().map(|c| if c.is_alphanumeric() { c } else { '-' }).collect::<String>().to_lowercase()
    }

    fn write_pages_to(&mut self, order: &PaperOrder, form: PageForm, to: PathBuf, to_view: bool) {
        let what = format!("Writing {}", to.display());
        let ready = self.pages_ready(order).cloned();
        let own = self.ordered(order);
        let named = what.clone();
        // Pages that are there are soon written: whoever leaves meanwhile finds the file.
        let manner = if ready.is_some() { Manner::ToTheEnd } else { Manner::InTurn };
        self.start(&what, manner, move |watch| {
            let result = or_broken(|| {
                let laid = match ready {
                    Some(laid) => laid,
                    None => match own.lay_out(&|share| {
                        watch.progress(share * 0.6);
                        !watch.is_stopped()
                    })? {
                        Some(laid) => Arc::from(laid),
                        None => return Ok(None),
                    },
                };
                write_pages(&laid.pages, &to, form, &|share| {
                    watch.progress(0.6 + share * 0.4);
                    !watch.is_stopped()
                })
            });
            Outcome::Paper(Box::new(PaperOutcome::Written { what: named, to_view, result }))
        });
    }

    fn write_list(&mut self, list: ListFile, to: PathBuf) {
        let (machine, catalogue) = (Arc::clone(&self.machine), Arc::clone(&self.catalogue));
        let what = format!("Writing {}", to.display());
        let named = what.clone();
        self.start(&what, Manner::ToTheEnd, move |_| {
            let result = or_broken(|| {
                let (bytes, what) =
                    list_file(&machine, &catalogue, list).map_err(|why| format!("{}: {why}", to.display()))?;
                write(&to, &bytes)?;
                Ok(Some(Written { files: vec![to], what, remark: String::new() }))
            });
            Outcome::Paper(Box::new(PaperOutcome::Written { what: named, to_view: false, result }))
        });
    }

    /// Packs the record's file: what is not saved is not in it, so it has to be saved first.
    fn pack(&mut self, to: PathBuf) {
        let what = "Packing the record";
        let Some(record) = self.path().map(Path::to_path_buf).filter(|_| !self.is_changed()) else {
            self.fail(
                what,
                &"the record has changes that are not saved, and a pack is made of its file; save it, then pack it",
            );
            return;
        };
        let catalogue = Arc::clone(&self.catalogue);
        self.start(what, Manner::ToTheEnd, move |_| {
            let result = or_broken(|| store::pack(&record, &to, &catalogue).map_err(|why| why.to_string()));
            Outcome::Paper(Box::new(PaperOutcome::Packed { result }))
        });
    }

    /// Unpacks a packed record into a folder: [`Event::Unpacked`] says where it lies. Nothing that is there is replaced.
    pub fn unpack(&mut self, pack: PathBuf, into: PathBuf) {
        self.start(&format!("Unpacking {}", pack.display()), Manner::ToTheEnd, move |_| {
            let result = or_broken(|| store::unpack(&pack, &into).map_err(|why| why.to_string()));
            Outcome::Paper(Box::new(PaperOutcome::Unpacked { result }))
        });
    }

    fn ordered(&mut self, order: &PaperOrder) -> Task {
        Task {
            machine: Arc::clone(&self.machine),
            catalogue: Arc::clone(&self.catalogue),
            name: self.path().map_or_else(|| "the record".to_owned(), |path| path.display().to_string()),
            photos: self.photo_homes(),
            wanted: self.wanted(order),
        }
    }

    fn wanted(&self, order: &PaperOrder) -> Wanted {
        let saved = !self.is_changed() && self.practice.is_none() && self.home.path.is_some();
        let hash = self.home.hash.clone().filter(|_| saved);
        Wanted { revision: self.revision, order: order.clone(), id: self.file_words(), hash }
    }

    /// Takes in what a job on paper handed over. What was written is told of whatever record is on the desk by now.
    pub(in crate::desk) fn take_paper(&mut self, outcome: PaperOutcome, is_of_record: bool) {
        match outcome {
            PaperOutcome::Laid { asked, result } => {
                let papers = &mut self.worked.papers;
                papers.job = None;
                if !is_of_record || papers.asked.as_ref() != Some(&asked) {
                    return;
                }
                match result {
                    Ok(Some(laid)) => {
                        papers.laid = Some(Arc::from(laid));
                        papers.number += 1;
                    }
                    Ok(None) => papers.asked = None,
                    Err(why) => papers.failed = Some(why),
                }
            }
            PaperOutcome::Painted { of, page, dots, result } => {
                self.worked.papers.painting = false;
                match result {
                    Ok(picture) => self.worked.papers.keep(of, page, dots, picture),
                    Err(why) => {
                        self.worked.papers.unpaintable = Some((of, page, dots));
                        self.fail(&format!("Painting page {}", page + 1), &why);
                    }
                }
            }
            PaperOutcome::Written { what, to_view, result } => match result {
                Ok(Some(written)) => self.tell_written(written, to_view),
                Ok(None) => self.events.push(Event::Remark(format!("Stopped: {what}"))),
                Err(why) => self.fail(&what, &why),
            },
            PaperOutcome::Packed { result: Ok(done) } => {
                self.tell_missing("Packing the record", &done);
                self.events.push(Event::Remark(format!("Written: {}, {}", done.file.display(), packed_words(&done))));
            }
            PaperOutcome::Packed { result: Err(why) } => self.fail("Packing the record", &why),
            PaperOutcome::Unpacked { result: Ok(done) } => {
                self.events.push(Event::Remark(format!("Unpacked: {}, {}", done.file.display(), packed_words(&done))));
                self.events.push(Event::Unpacked(done.file));
            }
            PaperOutcome::Unpacked { result: Err(why) } => self.fail("Opening a packed file", &why),
        }
    }

    fn tell_written(&mut self, written: Written, to_view: bool) {
        let Some(first) = written.files.first().cloned() else { return };
        if !written.remark.is_empty() {
            let what = format!("Written: {}", first.display());
            self.events.push(Event::Warned { what, message: written.remark });
        }
        if to_view {
            self.events.push(Event::ToView(first));
            return;
        }
        let files = match written.files.last() {
            Some(last) if *last != first => format!("{} to {}", first.display(), last.display()),
            _ => first.display().to_string(),
        };
        self.events.push(Event::Remark(format!("Written: {files}, {}", written.what)));
    }

    fn tell_missing(&mut self, what: &str, done: &Packed) {
        if !done.missing.is_empty() {
            self.events.push(Event::Warned { what: what.to_owned(), message: done.missing.join("\n") });
        }
    }
}

impl Papers {
    /// Lets go of the pages of a record that leaves the desk.
    pub(in crate::desk) fn forget(&mut self) {
        (self.laid, self.asked, self.failed, self.unpaintable) = (None, None, None, None);
        self.pictures.clear();
    }

    fn keep(&mut self, of: u64, page: usize, dots: u32, picture: PagePicture) {
        if of != self.number || self.laid.is_none() {
            return;
        }
        let used = self.used;
        self.pictures.retain(|_, painted| painted.of == of);
        self.pictures.insert(page, Painted { of, dots, picture: Arc::new(picture), used });
        while self.pictures.len() > MOST_PICTURES {
            let Some(oldest) = self.pictures.iter().min_by_key(|(_, painted)| painted.used).map(|(&page, _)| page)
            else {
                return;
            };
            self.pictures.remove(&oldest);
        }
    }
}

fn words(print: Print) -> &'static str {
    match print {
        Print::Sheet => "the wiring sheet",
        Print::Labels => "labels for wires",
        Print::Drawing => "the drawing",
    }
}

fn packed_words(done: &Packed) -> String {
    format!("1 record, photos: {}, copies of visits: {}", done.photos, done.copies)
}
