//! The formulas one by one: what each is asked with, and the library's answer to it. No arithmetic stands here.

mod catalogue;
mod common;
mod flow_test;
mod found;
mod given;
mod hose;
mod input;
mod lay;
mod needed_flow;
mod pipe;
mod pumping;
mod reader;
mod relay;
mod stream;

pub(crate) use catalogue::{answered_by, entry, formula};
pub(crate) use found::{Answer, Found, Named, Output};
pub(crate) use given::given;
pub(crate) use input::{Input, Kind};
pub(crate) use reader::{MAX_ITEMS, Reader};
