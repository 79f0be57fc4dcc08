//! The hydraulics crate seen from outside: the worked examples, the facts, the laws, and the ends of every range.

#[cfg(test)]
mod band_laws;
#[cfg(test)]
mod changes;
#[cfg(test)]
mod combined_laws;
#[cfg(test)]
mod common;
#[cfg(test)]
mod drill_laws;
#[cfg(test)]
mod extremes;
#[cfg(test)]
mod facts;
#[cfg(test)]
mod handbook_facts;
#[cfg(test)]
mod handbook_laws;
#[cfg(test)]
mod laws;
#[cfg(test)]
mod lay_facts;
#[cfg(test)]
mod lays;
#[cfg(test)]
mod low_end_facts;
#[cfg(test)]
mod many_laws;
#[cfg(test)]
mod many_pairs;
#[cfg(test)]
mod needed_flow_facts;
#[cfg(test)]
mod own_test_facts;
#[cfg(test)]
mod pipe_facts;
#[cfg(test)]
mod plain_model;
#[cfg(test)]
mod pumping_facts;
#[cfg(test)]
mod relay_laws;
#[cfg(test)]
mod worked;
