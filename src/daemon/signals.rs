//! SIGTERM and SIGINT: asked to end, we stop the show first. SIGXFSZ: a journal that may grow no further is an error of its
//! write, and must not end a show.

use std::io;
use std::sync::Arc;
use std::sync::mpsc::Sender;

use rustix::process::Signal;
use tokio::runtime::Runtime;
use tokio::signal::unix::{SignalKind, signal};

use super::start::Ending;
use super::stop_road::StopRoad;
use crate::engine::StopLane;

pub fn listen(runtime: &Runtime, stop: Arc<StopRoad>, ending: Sender<Ending>) -> io::Result<()> {
    let _inside = runtime.enter();
    for (kind, name) in [(SignalKind::terminate(), "SIGTERM"), (SignalKind::interrupt(), "SIGINT")] {
        let mut signals = signal(kind)?;
        let (stop, ending) = (stop.clone(), ending.clone());
        runtime.spawn(async move {
            while signals.recv().await.is_some() {
                stop.press(StopLane::Signal, None);
                let _ = ending.send(Ending::Signal(name));
            }
        });
    }
    let mut too_long = signal(SignalKind::from_raw(Signal::XFSZ.as_raw()))?;
    runtime.spawn(async move { while too_long.recv().await.is_some() {} });
    Ok(())
}
