//! The writing side of a running session.

use super::error::StoreError;
use super::journal::{Entry, Journal, OwnSums};
use super::paths::Places;
use super::record::{
    Body, DrillEnd, DrillRecord, DrillStart, Ended, Row, SessionRecord, SessionStart, Span, Uid,
    WholeDrill,
};
use super::tally::Tally;
use super::{Store, create_folder, fold};
use crate::drill::Source;
use crate::session::Keystroke;
use crate::units::Micros;
use std::collections::BTreeMap;
use std::io;
use std::path::Path;

/// A running session, as far as it is kept.
///
/// Nothing here fails: what goes wrong is told by [`Sitting::trouble`], and
/// the session goes on. A sitting that is dropped without [`Sitting::end`]
/// leaves its journal for the next opening.
#[derive(Debug)]
pub struct Sitting {
    places: Places,
    store: Option<Store>,
    store_trouble: Option<String>,
    /// What [`Sitting::trouble`] tells.
    trouble: Option<String>,
    session: SessionRecord,
    journal: Option<Journal>,
    journal_trouble: Option<String>,
    current: Option<Current>,
    /// Drills that ended and are not in the database yet.
    pending: Vec<WholeDrill>,
    n_drills: u32,
}

#[derive(Debug)]
struct Current {
    start: DrillRecord,
    content: Content,
    last_us: u64,
}

#[derive(Debug)]
enum Content {
    Rows(BTreeMap<u32, Row>),
    Own(Tally),
}

impl Sitting {
    /// A session that writes into `store`, the history in the folder `data`,
    /// or, where that can't be opened, into a journal. Without a store it tries
    /// to open one itself. Makes no journal before the first drill.
    pub fn begin(data: &Path, store: Option<Store>, start: SessionStart) -> Self {
        let places = Places::new(data);
        let store = store.map_or_else(|| Store::open_at(&places), Ok);
        Self::begin_at(places, store, start)
    }

    /// As [`Sitting::begin`], with stated places, and the reason where the
    /// history could not be opened.
    pub fn begin_at(places: Places, store: Result<Store, StoreError>, start: SessionStart) -> Self {
        let (store, store_trouble) = match store {
            Ok(store) => (Some(store), None),
            Err(error) => (None, Some(error.to_string())),
        };
        let mut sitting = Self {
            places,
            store,
            store_trouble,
            trouble: None,
            session: SessionRecord { uid: Uid::random(), start },
            journal: None,
            journal_trouble: None,
            current: None,
            pending: Vec::new(),
            n_drills: 0,
        };
        sitting.take_stock();
        sitting
    }

    /// The name of this session, by which queries can leave it out.
    pub fn uid(&self) -> Uid {
        self.session.uid
    }

    /// Takes note of the terminal's level, by its word, when it becomes known
    /// after the start. What is committed from now on says so; a journal that
    /// is already begun keeps the word it began with.
    pub fn set_terminal_level(&mut self, word: &str) {
        word.clone_into(&mut self.session.start.terminal_level);
    }

    /// The history, where it could be opened.
    pub fn store(&self) -> Option<&Store> {
        self.store.as_ref()
    }

    /// Starts a drill. One that is still running counts as left.
    pub fn begin_drill(&mut self, start: &DrillStart) {
        self.leave_running_drill();
        self.open_journal();
        let record = DrillRecord::new(start, self.n_drills);
        self.n_drills += 1;
        self.write(&Entry::Drill(record.clone()));
        let content = match start.source {
            Source::Shipped => Content::Rows(BTreeMap::new()),
            Source::Own => {
                if let Some(journal) = &self.journal {
                    let own = OwnSums { drill: record.uid, tally: Tally::default() };
                    journal.with_own(|slot| *slot = Some(own));
                }
                Content::Own(Tally::default())
            }
        };
        self.current = Some(Current { start: record, content, last_us: start.started_at.0 });
        self.take_stock();
    }

    /// Keeps a keystroke. When this returns, a killed program doesn't lose it
    /// any more; of the person's own text, what is older than a second.
    /// Outside a drill nothing is due, so nothing is kept.
    pub fn keystroke(&mut self, keystroke: &Keystroke) {
        let started = self.session.start.started;
        let Some(current) = &mut self.current else { return };
        let row = Row::of(keystroke);
        current.last_us = current.last_us.max(row.at_us);
        match &mut current.content {
            Content::Own(tally) => {
                tally.add(started, &row);
                if let Some(journal) = &self.journal {
                    journal.with_own(|own| {
                        if let Some(own) = own {
                            own.tally.add(started, &row);
                        }
                    });
                }
            }
            Content::Rows(rows) => {
                let entry = Entry::Key(row);
                if let Some(journal) = &mut self.journal {
                    journal.append(&entry);
                }
                if let Entry::Key(row) = entry {
                    rows.entry(row.seq).or_insert(row);
                }
            }
        }
        self.take_stock();
    }

    /// Adds how long the key of keystroke `seq` of the running drill stayed
    /// down, where its release came after [`Sitting::keystroke`]. Nothing of the
    /// kind is kept of own texts.
    pub fn down(&mut self, seq: u32, down: Micros) {
        let Some(Current { content: Content::Rows(rows), .. }) = &mut self.current else { return };
        if let Some(row) = rows.get_mut(&seq) {
            row.down_us = Some(down.0);
            self.write(&Entry::Down(seq, down.0));
        }
    }

    /// Ends the running drill and writes it into the database.
    pub fn end_drill(&mut self, end: &DrillEnd) {
        let end = *end;
        let Some(current) = self.current.take() else { return };
        let body = match current.content {
            Content::Rows(rows) => Body::Rows(rows.into_values().collect()),
            Content::Own(tally) => {
                self.write(&Entry::Sums(tally.clone()));
                Body::Sums(tally)
            }
        };
        self.write(&Entry::DrillEnd(end));
        let drill = WholeDrill { start: current.start, end, body };
        if !drill.is_empty() {
            self.pending.push(drill);
        }
        self.commit_pending(None);
        self.take_stock();
    }

    /// Ends the session after `active` time. Gives back the history, and what
    /// could not be kept where it belongs, in words for the person.
    pub fn end(mut self, ended: Ended, active: Micros) -> Closed {
        self.leave_running_drill();
        if self.n_drills == 0 {
            return Closed { store: self.store, trouble: None };
        }
        let close = DrillEnd { ended, active: Span(active.0), text: None };
        self.write(&Entry::SessionEnd(close));
        if self.store.is_none() {
            // What kept it closed may have gone.
            self.store = Store::open_at(&self.places).ok();
        }
        self.commit_pending(Some(&close));
        self.take_stock();
        if self.store_trouble.is_none()
            && let Some(journal) = self.journal.take()
        {
            journal.remove();
            return Closed { store: self.store, trouble: None };
        }
        Closed { store: self.store, trouble: self.trouble }
    }

    /// What the person should know, in plain words; none where all is well.
    pub fn trouble(&self) -> Option<&str> {
        self.trouble.as_deref()
    }

    fn take_stock(&mut self) {
        let journal = self.journal.as_ref();
        let failure = self.journal_trouble.clone().or_else(|| journal.and_then(Journal::failure));
        self.trouble = match (&self.store_trouble, failure) {
            (None, None) => None,
            (None, Some(why)) => Some(format!(
                "The journal can't be written ({why}). Practice goes on; each drill goes into \
                 the history when it ends."
            )),
            (Some(store), None) => Some(match journal {
                Some(journal) => format!(
                    "{store}. Practice goes on; it is kept in '{}' and goes into the history in \
                     '{}' at the first start that can use that.",
                    journal.path().display(),
                    self.places.data.display()
                ),
                None => format!("{store}. Practice goes on and will be kept in a journal."),
            }),
            (Some(store), Some(why)) => Some(format!(
                "{store}. The journal can't be written either ({why}). Practice goes on; it is \
                 held in memory and tried again at the end of each drill."
            )),
        };
    }

    fn leave_running_drill(&mut self) {
        if let Some(current) = &self.current {
            let active = current.last_us.saturating_sub(current.start.started_at_us);
            self.end_drill(&DrillEnd { ended: Ended::Left, active: Span(active), text: None });
        }
    }

    fn write(&mut self, entry: &Entry) {
        if let Some(journal) = &mut self.journal {
            journal.append(entry);
        }
    }

    /// Makes the journal, in the data folder or in a substitute.
    fn open_journal(&mut self) {
        if self.journal.is_some() {
            return;
        }
        let create = |dir: &Path| -> io::Result<Journal> {
            create_folder(dir)?;
            if dir != self.places.data && !fold::is_ours(dir) {
                return Err(io::Error::other(format!("'{}' is somebody else's", dir.display())));
            }
            Journal::create(dir, &self.places.data, &self.session)
        };
        let mut outcome = create(&self.places.data);
        for dir in &self.places.fallbacks {
            if outcome.is_ok() {
                break;
            }
            // The first error is the one that tells.
            outcome = outcome.or_else(|first| create(dir).map_err(|_| first));
        }
        match outcome {
            Ok(mut journal) => {
                // Drills that ended while there was none.
                for drill in &self.pending {
                    journal.append(&Entry::Drill(drill.start.clone()));
                    match &drill.body {
                        Body::Rows(rows) => {
                            for row in rows {
                                journal.append(&Entry::Key(row.clone()));
                            }
                        }
                        Body::Sums(tally) => journal.append(&Entry::Sums(tally.clone())),
                    }
                    journal.append(&Entry::DrillEnd(drill.end));
                }
                self.journal = Some(journal);
                self.journal_trouble = None;
            }
            Err(error) => self.journal_trouble = Some(error.to_string()),
        }
    }

    fn commit_pending(&mut self, close: Option<&DrillEnd>) {
        let Some(store) = &mut self.store else { return };
        if self.pending.is_empty() && (close.is_none() || !store.knows(&self.session)) {
            return;
        }
        match store.commit(&self.session, &self.pending, close) {
            Ok(_) => {
                self.pending.clear();
                self.store_trouble = None;
                if let Some(journal) = &mut self.journal {
                    journal.clear();
                    journal.with_own(|own| *own = None);
                }
            }
            Err(error) => self.store_trouble = Some(error.to_string()),
        }
    }
}

/// What a session leaves behind.
#[derive(Debug)]
pub struct Closed {
    /// The history, for the next session; none where it can't be opened.
    pub store: Option<Store>,
    /// What could not be kept where it belongs, in words for the person.
    pub trouble: Option<String>,
}

/// Makes a write beyond a file size limit an error like a full disk, where the
/// system would end the program by default.
pub(super) fn survive_size_limit() {
    #[cfg(unix)]
    {
        use signal_hook::consts::SIGXFSZ;
        use std::sync::atomic::AtomicBool;
        use std::sync::{Arc, Once};
        static ONCE: Once = Once::new();
        ONCE.call_once(|| {
            // Without it a full disk is still met; only the limit is not.
            let _ = signal_hook::flag::register(SIGXFSZ, Arc::new(AtomicBool::new(false)));
        });
    }
}
