//! Time and price of work that is already counted.

use serde::Deserialize;
use toile_model::production::Work;
use toile_model::{self as model, Faults, Inspector, Job, ThreadUse, units};
use utoipa::ToSchema;

use crate::api::number::{PartCount, StitchCount, ThreadKinds, ThreadM};
use crate::api::production::ProductionOrder;
use crate::api::read::Readable;

/// Work on one piece, how many pieces, and how they are to be made.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ProductionQuestion {
    /// What is sewn on one piece.
    sewing: SewingQuestion,
    /// Pieces asked for; 1 where nothing is given.
    #[schema(minimum = 1, maximum = 10_000_000)]
    quantity: Option<u32>,
    /// How they are to be made. Its decorative stitches come on top of the work.
    production: Option<ProductionOrder>,
}

/// What one piece takes. What is left out is 0.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SewingQuestion {
    /// Stitches in plain thread.
    plain_stitches: Option<StitchCount>,
    /// Stitches in conductive thread.
    conductive_stitches: Option<StitchCount>,
    /// Stitches that hold laid wire.
    laid_stitches: Option<StitchCount>,
    /// Cuts of the thread.
    trims: Option<PartCount>,
    /// Kinds of plain thread on needles, each in its own; 1 where there is plain needle thread and nothing is given.
    plain_needles: Option<ThreadKinds>,
    /// Lights placed by the machine.
    lights: Option<PartCount>,
    /// Terminals and patches put on by hand.
    terminals: Option<PartCount>,
    /// Conductive threads.
    #[schema(max_items = 100)]
    #[serde(default)]
    threads: Vec<ThreadQuestion>,
    /// Plain thread from needles.
    plain_needle_m: Option<ThreadM>,
    /// Plain thread from bobbins.
    plain_bobbin_m: Option<ThreadM>,
    /// Wire, tube or roving.
    laid_m: Option<ThreadM>,
}

/// A conductive thread of one piece.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ThreadQuestion {
    /// Id of a thread of the library, for its own price; a thread at the general price where nothing is given.
    #[schema(max_length = 200)]
    library: Option<String>,
    /// From the needle.
    needle_m: Option<ThreadM>,
    /// From the bobbin.
    bobbin_m: Option<ThreadM>,
}

impl ProductionQuestion {
    /// The job, how it is to be made, and how many.
    ///
    /// # Errors
    /// Every number out of range, currencies and threads that are not known.
    pub fn to_model(self, library: &model::materials::Library) -> Result<(Job, model::Order, u32), Faults> {
        let order: model::Order = self.production.unwrap_or_default().into();
        let quantity = self.quantity.unwrap_or(1);
        let mut inspect = Inspector::new();
        inspect.number(&units::PIECES, f64::from(quantity), || "/quantity".into());
        for (k, thread) in self.sewing.threads.iter().enumerate() {
            if let Some(id) = thread.library.as_deref().filter(|id| library.thread(id).is_none()) {
                let known: Vec<_> = library.threads.iter().map(|thread| thread.id).collect();
                let id: String = id.chars().take(100).collect();
                let message = "The library has no such thread.";
                inspect.refuse(format!("/sewing/threads/{k}/library"), id, message, format!("one of {}", known.join(", ")));
            }
        }
        order.check(&mut inspect, library);
        inspect.finish()?;
        Ok((self.sewing.job(&order), order, quantity))
    }
}

impl SewingQuestion {
    fn job(self, order: &model::Order) -> Job {
        // Decoration, boards and the jig are counted as those of a piece are.
        let mut job = Job::of(&[], 0, order);
        let count = |n: Option<f64>| n.unwrap_or(0.0);
        let plain_needles = self.plain_needles.map_or(f64::from(u8::from(self.plain_needle_m.is_some())), |n| n.0);
        let on = |metres: &Option<ThreadM>| metres.is_some_and(|m| m.0.value > 0.0);
        let conductive = self.threads.iter().filter(|t| on(&t.needle_m)).count();
        let bobbins = self.threads.iter().filter(|t| on(&t.bobbin_m)).count();
        let work = job.work;
        let plain_bobbin = work.bobbins > 0.0 || on(&self.plain_bobbin_m);
        job.work = Work {
            stitches: [
                work.stitches[0] + count(self.plain_stitches.map(|n| n.0)),
                count(self.conductive_stitches.map(|n| n.0)),
                count(self.laid_stitches.map(|n| n.0)),
            ],
            needles: work.needles + plain_needles + conductive as f64,
            bobbins: (bobbins + usize::from(plain_bobbin)) as f64,
            trims: work.trims + count(self.trims.map(|n| n.0)),
            machine_parts: count(self.lights.map(|n| n.0)),
            hand_parts: count(self.terminals.map(|n| n.0)),
            ..work
        };
        let metres = |m: Option<ThreadM>| m.map_or_else(Default::default, |m| m.0.into());
        job.threads = self
            .threads
            .into_iter()
            .map(|t| ThreadUse { library: t.library, needle_m: metres(t.needle_m), bobbin_m: metres(t.bobbin_m) })
            .collect();
        job.plain_needle_m = job.plain_needle_m.plus(&metres(self.plain_needle_m));
        job.plain_bobbin_m = job.plain_bobbin_m.plus(&metres(self.plain_bobbin_m));
        job.laid_m = metres(self.laid_m);
        job
    }
}

impl Readable for ProductionQuestion {
    const SCHEMA: &'static str = "ProductionQuestion";
}
