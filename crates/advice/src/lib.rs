//! From a grade to sentences that a learner can act on.
//!
//! [`advise`] takes a grade, the measurement it was made from and a kit of instruments, and says for everything that is not as asked, in
//! one sentence: what, where, how much, with which instrument and how held, what to watch, and whether it can still be mended. What
//! endangers comes first, what is quick second. No sentence is made up: the table `data/rules.toml` names, reading by reading and
//! way by way, a text and the kind of instrument; the texts are in one file a language, `data/en.toml` and `data/es.toml`. Both can be
//! edited and translated without code. The same grade gives the same sentences.
//!
//! Advice is for teaching. It knows what was measured and nothing else: the licensed clinician and local rules decide.

mod advice;
mod ahead;
mod choose;
mod equip;
mod facts;
mod findings;
mod language;
mod place;
pub mod rules;
mod template;
mod tool;
mod unmeasured;

pub use advice::{Advice, Concern, Instrument, Urgency, advise, kit_of_exercise};
pub use language::Language;
pub use template::Template;
pub use tool::head_keys;
