//! The show in force, with what is made from it once; and beside it the one that follows it or came before.
//!
//! A reload replaces the show between two ticks. What is on its way just then, a status, an event, a request, was made
//! from the other show and can be read only with that: each carries the edition that it belongs to.

use std::sync::Arc;

use arc_swap::ArcSwap;

use crate::engine::Status;
use crate::proof::Plan;
use crate::show::Show;
use crate::stage::Stage;
use crate::wire::Names;

/// One edition of the show. Editions count from 1 through a run of the daemon.
pub struct Book {
    pub edition: u32,
    pub show: Arc<Show>,
    pub plan: Arc<Plan>,
    pub names: Names,
    pub stage: Stage,
}

impl Book {
    pub fn new(edition: u32, show: Arc<Show>, plan: Arc<Plan>) -> Book {
        Book { edition, names: Names::new(&show), stage: Stage::new(&show), show, plan }
    }
}

/// The books that words on their way may need.
pub struct Shelf {
    books: ArcSwap<Pair>,
}

struct Pair {
    /// As far as answers and events have been told.
    open: Arc<Book>,
    /// The one before it, or the one that the tick thread is being given.
    other: Option<Arc<Book>>,
}

impl Shelf {
    pub fn new(book: Book) -> Shelf {
        Shelf { books: ArcSwap::from_pointee(Pair { open: Arc::new(book), other: None }) }
    }

    pub fn open(&self) -> Arc<Book> {
        self.books.load().open.clone()
    }

    /// The book that a status was made from.
    pub fn of(&self, status: &Status) -> Arc<Book> {
        let pair = self.books.load();
        match &pair.other {
            Some(other) if other.edition == status.edition => other.clone(),
            Some(_) | None => pair.open.clone(),
        }
    }

    /// Before the tick thread is given the show of this book.
    pub fn lay_out(&self, next: Arc<Book>) {
        self.books.store(Arc::new(Pair { open: self.open(), other: Some(next) }));
    }

    /// From here on, answers and events are of this edition, which was laid out.
    pub fn turn_to(&self, edition: u32) {
        let pair = self.books.load_full();
        if let Some(next) = pair.other.as_ref().filter(|other| other.edition == edition) {
            self.books.store(Arc::new(Pair { open: next.clone(), other: Some(pair.open.clone()) }));
        }
    }
}
