//! The store seen from outside: real files, the settings of production, and raw SQL only to try what the store would never do.

#[cfg(test)]
mod audit;
#[cfg(test)]
mod backup;
#[cfg(test)]
mod drills;
#[cfg(test)]
mod equipment;
#[cfg(test)]
mod equipment_tests;
#[cfg(test)]
mod evidence;
#[cfg(test)]
mod flow_tests;
#[cfg(test)]
mod guards;
#[cfg(test)]
mod hydrants;
#[cfg(test)]
mod imports;
#[cfg(test)]
mod keys;
#[cfg(test)]
mod lay_inputs;
#[cfg(test)]
mod library;
#[cfg(test)]
mod opening;
#[cfg(test)]
mod replays;
#[cfg(test)]
mod snapshots;
#[cfg(test)]
mod support;
#[cfg(test)]
mod town;
#[cfg(test)]
mod upgrades;
