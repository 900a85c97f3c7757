//! The thread that carries the engine's words from the tick thread to those who wait for them.
//!
//! It sleeps until the tick thread wakes it, so an answer is on its way within microseconds of its tick, and the tick
//! thread never touches a lock, a socket or a runtime. An answer goes once its record is written, see `journal`.

use std::time::Duration;

use super::house::House;
use super::tick_loop::Word;

/// In case a wake-up is lost, which `unpark` rules out; and to notice the end.
const LOOK_AT_LEAST: Duration = Duration::from_millis(50);

/// Runs until the loop is asked to end and its last words are delivered.
pub fn run(mut words: rtrb::Consumer<Word>, house: &House) {
    loop {
        let ending = house.pulse.asked_to_end() && words.is_abandoned();
        while let Ok(word) = words.pop() {
            match word {
                Word::Answer(answer, due) => {
                    house.keeping.await_written(due.tick, due.latest);
                    house.hub.answer(answer);
                }
                Word::Event(event) => house.announce(event),
                Word::Edited { engine, outcome } => {
                    house.reload.finish(house, outcome);
                    drop(engine);
                }
            }
        }
        if ending {
            return;
        }
        std::thread::park_timeout(LOOK_AT_LEAST);
    }
}
