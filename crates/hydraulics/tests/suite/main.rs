//! The hydraulics crate seen from outside: the worked examples and the laws.

#[cfg(test)]
mod common;
#[cfg(test)]
mod worked;
