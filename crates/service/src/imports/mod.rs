//! Files brought in, over HTTP and from the command line alike: read whole, judged whole, then kept whole or not at all.

pub(crate) mod answer;
pub(crate) mod arrived;
pub(crate) mod carry_out;
pub(crate) mod spool;
pub(crate) mod streets;
pub(crate) mod warnings;
