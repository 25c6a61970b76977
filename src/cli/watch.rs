//! Watches a run: a progress bar on a terminal, and Ctrl-C or a request to end that stops it cleanly and soon.

use super::exit::{CliError, Exit};
use super::screen::Screen;
use crate::ensemble::Progress;
use crate::report::writer;
use indicatif::{ProgressBar, ProgressState, ProgressStyle};
use std::fmt::Write;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::thread::JoinHandle;
use std::time::Duration;

/// Whether the user asked to stop.
static INTERRUPTED: AtomicBool = AtomicBool::new(false);
/// What an interrupt stops.
static WATCHED: Mutex<Option<Arc<Progress>>> = Mutex::new(None);

fn watched() -> MutexGuard<'static, Option<Arc<Progress>>> {
    WATCHED.lock().unwrap_or_else(PoisonError::into_inner)
}

/// How long what can be stopped has to keep what is complete; the program ends within two seconds.
const GRACE: Duration = Duration::from_millis(1300);

/// Listens to interrupts and requests to end from now on: the first stops what is watched and ends the program soon, a
/// second one ends it at once.
pub(super) fn listen() {
    // A handler can be set only once in a process; where one stands already it stays.
    let _ = ctrlc::set_handler(|| {
        if INTERRUPTED.swap(true, Ordering::SeqCst) {
            end_now();
        }
        if let Some(progress) = watched().as_ref() {
            progress.cancel();
        }
        // Drawing and reading are not watched.
        std::thread::spawn(|| {
            std::thread::sleep(GRACE);
            end_now();
        });
    });
}

fn end_now() -> ! {
    Screen::error(&CliError::Stopped(
        "stopped before its files were complete; the same command begins anew, or goes on where parts are kept"
            .to_owned(),
    ));
    writer::abandon(Exit::Stopped as i32)
}

/// A watched run; the bar goes away when it is dropped.
pub(super) struct Watch {
    progress: Arc<Progress>,
    over: Arc<AtomicBool>,
    drawing: Option<JoinHandle<()>>,
}

impl Watch {
    /// Starts to watch. `expected` is a guess of the passes to fly.
    pub(super) fn start(screen: Screen, expected: u64) -> Self {
        let progress = Arc::new(Progress::default());
        let over = Arc::new(AtomicBool::new(false));
        watched().clone_from(&Some(Arc::clone(&progress)));
        // One that came between two stages stops the second.
        if INTERRUPTED.load(Ordering::SeqCst) {
            progress.cancel();
        }
        let drawing = screen.shows_progress().then(|| {
            let (progress, over) = (Arc::clone(&progress), Arc::clone(&over));
            std::thread::spawn(move || draw(&progress, &over, expected))
        });
        Self {
            progress,
            over,
            drawing,
        }
    }

    pub(super) fn progress(&self) -> &Progress {
        &self.progress
    }
}

impl Drop for Watch {
    fn drop(&mut self) {
        self.over.store(true, Ordering::Relaxed);
        if let Some(drawing) = self.drawing.take() {
            let _ = drawing.join();
        }
    }
}

fn draw(progress: &Progress, over: &AtomicBool, expected: u64) {
    let bar = ProgressBar::new(expected);
    if let Ok(style) = ProgressStyle::with_template(TEMPLATE) {
        bar.set_style(style.with_key("rate", rate).with_key("left", left));
    }
    while !over.load(Ordering::Relaxed) {
        let done = progress.done();
        if done > bar.length().unwrap_or(0) {
            bar.set_length(done + done / 4);
        }
        bar.set_position(done);
        std::thread::sleep(Duration::from_millis(100));
    }
    bar.finish_and_clear();
}

/// The bar: at most 79 columns.
const TEMPLATE: &str = "{bar:24} {human_pos} of about {human_len} passes, {rate}, {left}";

/// Passes a second.
fn rate(state: &ProgressState, out: &mut dyn Write) {
    let _ = write!(out, "{:.0} k/s", state.per_sec() / 1e3);
}

/// Time that is left, as far as the number of passes is known beforehand.
fn left(state: &ProgressState, out: &mut dyn Write) {
    let seconds = state.eta().as_secs();
    let _ = match seconds {
        0..120 => write!(out, "{seconds} s left"),
        120..7200 => write!(out, "{} min left", seconds / 60),
        _ => write!(out, "{} h left", seconds / 3600),
    };
}
