//! What Prometheus reads: counts and times by route template, never by path, so that what callers write makes no new series.

use std::fmt;
use std::time::Duration;

use axum::http::Method;
use longlay_store::{Store, Wait};
use prometheus_client::collector::Collector;
use prometheus_client::encoding::text::{encode_eof, encode_registry};
use prometheus_client::encoding::{DescriptorEncoder, EncodeLabelSet, EncodeMetric};
use prometheus_client::metrics::counter::{ConstCounter, Counter};
use prometheus_client::metrics::family::Family;
use prometheus_client::metrics::gauge::{ConstGauge, Gauge};
use prometheus_client::metrics::histogram::Histogram;
use prometheus_client::metrics::info::Info;
use prometheus_client::registry::{Registry, Unit};

use crate::pools::Pool;

/// The media type of the text that is written.
pub(crate) const MEDIA_TYPE: &str = "application/openmetrics-text; version=1.0.0; charset=utf-8";
/// The route of what no route has.
pub(crate) const NO_ROUTE: &str = "none";
/// Bounds of the times, seconds: from a look-up to the longest answer.
const BOUNDS_S: [f64; 12] = [0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 10.0];

#[derive(Debug, Clone, PartialEq, Eq, Hash, EncodeLabelSet)]
struct Answered {
    method: &'static str,
    route: String,
    status: u16,
}

#[derive(Debug, Clone, PartialEq, Eq, Hash, EncodeLabelSet)]
struct Route {
    method: &'static str,
    route: String,
}

#[derive(Debug, Clone, PartialEq, Eq, Hash, EncodeLabelSet)]
struct Refused {
    pool: &'static str,
}

/// The counts of one service.
#[derive(Debug)]
pub(crate) struct Metrics {
    registry: Registry,
    requests: Family<Answered, Counter>,
    durations: Family<Route, Histogram>,
    in_flight: Gauge,
    shed: Family<Refused, Counter>,
    connections: Gauge,
    turned_away: Counter,
}

impl Default for Metrics {
    fn default() -> Self {
        let made = Self {
            registry: Registry::with_prefix("longlay"),
            requests: Family::default(),
            durations: Family::new_with_constructor(|| Histogram::new(BOUNDS_S)),
            in_flight: Gauge::default(),
            shed: Family::default(),
            connections: Gauge::default(),
            turned_away: Counter::default(),
        };
        for pool in [Pool::Dispatch, Pool::Records, Pool::Calculations, Pool::Heavy] {
            // There from the start: an alert on a series that is not there never fires.
            drop(made.shed.get_or_create(&Refused { pool: pool.name() }));
        }
        made.registered()
    }
}

impl Metrics {
    fn registered(mut self) -> Self {
        let registry = &mut self.registry;
        registry.register("build", "The program", Info::new(vec![("version", env!("CARGO_PKG_VERSION"))]));
        registry.register(
            "requests",
            "Requests answered; status 0 is a caller that left before",
            self.requests.clone(),
        );
        let durations = self.durations.clone();
        registry.register_with_unit(
            "request_duration",
            "From the head of a request to the end of its answer",
            Unit::Seconds,
            durations,
        );
        registry.register("requests_in_flight", "Requests being answered", self.in_flight.clone());
        registry.register("requests_shed", "Requests refused because their pool was full", self.shed.clone());
        registry.register("connections", "Open connections", self.connections.clone());
        let turned_away = self.turned_away.clone();
        registry.register("connections_turned_away", "Connections refused because there were too many", turned_away);
        self
    }

    /// A request has come.
    pub(crate) fn begin(&self) {
        self.in_flight.inc();
    }

    /// It has been answered, to its last byte; `status` is none where the caller left before.
    pub(crate) fn end(&self, method: &Method, route: &str, status: Option<u16>, took: Duration) {
        self.in_flight.dec();
        let (method, route) = (method_name(method), route.to_owned());
        let answered = Answered { method, route: route.clone(), status: status.unwrap_or(0) };
        self.requests.get_or_create(&answered).inc();
        self.durations.get_or_create(&Route { method, route }).observe(took.as_secs_f64());
    }

    /// A request was refused for want of a place.
    pub(crate) fn shed(&self, pool: Pool) {
        self.shed.get_or_create(&Refused { pool: pool.name() }).inc();
    }

    /// A connection was opened (+1) or closed (-1).
    pub(crate) fn connection(&self, change: i64) {
        self.connections.inc_by(change);
    }

    /// A connection was refused.
    pub(crate) fn turned_away(&self) {
        self.turned_away.inc();
    }

    /// All of it as text, with the state of the store now.
    pub(crate) fn text(&self, store: &Store) -> Result<String, fmt::Error> {
        let mut text = String::new();
        encode_registry(&mut text, &self.registry)?;
        let mut of_store = Registry::with_prefix("longlay_store");
        of_store.register_collector(Box::new(StoreGauges(store.clone())));
        encode_registry(&mut text, &of_store)?;
        encode_eof(&mut text)?;
        Ok(text)
    }
}

/// A caller may make up methods; only those of the protocol make a series.
fn method_name(method: &Method) -> &'static str {
    match method.as_str() {
        "GET" => "GET",
        "HEAD" => "HEAD",
        "POST" => "POST",
        "PUT" => "PUT",
        "DELETE" => "DELETE",
        "PATCH" => "PATCH",
        "OPTIONS" => "OPTIONS",
        _ => "other",
    }
}

#[derive(Debug)]
struct StoreGauges(Store);

impl Collector for StoreGauges {
    fn encode(&self, mut encoder: DescriptorEncoder) -> Result<(), fmt::Error> {
        let mut gauge = |name: &str, help: &str, unit: Option<&Unit>, value: i64| {
            let gauge = ConstGauge::new(value);
            gauge.encode(encoder.encode_descriptor(name, help, unit, gauge.metric_type())?)
        };
        let bytes = |bytes: u64| i64::try_from(bytes).unwrap_or(i64::MAX);
        if let Ok(disk) = self.0.disk() {
            gauge("database_size", "Size of the database file", Some(&Unit::Bytes), bytes(disk.database_bytes))?;
            gauge("log_size", "Size of its write-ahead log", Some(&Unit::Bytes), bytes(disk.log_bytes))?;
            gauge("free", "Room left on its disk", Some(&Unit::Bytes), bytes(disk.free_bytes))?;
        }
        let writable = i64::from(self.0.can_write().is_ok());
        gauge("writable", "Whether records can be written: 1, or 0 as on a full disk", None, writable)?;
        let used = self.0.in_use();
        gauge("connections_reading", "Database connections that read now", None, used.reading.into())?;
        gauge("connections_writing", "Database connections that write now", None, used.writing.into())?;
        let mut wait = |name: &str, wait: Wait| {
            let total: ConstCounter<f64> = ConstCounter::new(wait.total.as_secs_f64());
            let help = "Time work has waited to begin";
            total.encode(encoder.encode_descriptor(
                &format!("{name}_wait"),
                help,
                Some(&Unit::Seconds),
                total.metric_type(),
            )?)?;
            let count: ConstCounter<u64> = ConstCounter::new(wait.count);
            let help = "Units of work begun";
            count.encode(encoder.encode_descriptor(&format!("{name}s"), help, None, count.metric_type())?)
        };
        wait("read", used.read_wait)?;
        wait("write", used.write_wait)
    }
}
