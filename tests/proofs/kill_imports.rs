//! Imports under SIGKILL: a file is wholly there or wholly absent, whatever was acknowledged is there, and a request sent again under
//! its `Idempotency-Key` gives the answer that the first one had, or does it once.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use crate::random::Random;
use crate::server::{Reply, Server, asked};
use crate::sheets::{ROWS, Ward};

/// A file, as it is sent and sent again.
struct Sheet {
    number: u64,
    /// The hydrant its tests were gauged at; none where it holds hydrants.
    gauge: Option<String>,
    text: String,
    key: String,
}

/// Brings in one file after the other.
pub(crate) struct Importer {
    number: u64,
    random: Random,
    ward: Ward,
    gauge: String,
    /// The sheet that stands in each ward.
    standing: BTreeMap<Ward, u64>,
    /// The sheets recorded at each gauge, with its ward.
    recorded: BTreeMap<String, (Ward, BTreeSet<u64>)>,
    under_way: Option<Sheet>,
    /// The last that was acknowledged, with its answer.
    last: Option<(Sheet, Reply)>,
    sheets: u64,
    counts: Counts,
}

/// What came of the files.
#[derive(Debug, Default, Clone, Copy)]
struct Counts {
    acknowledged: u64,
    under_way_kept: u64,
    under_way_absent: u64,
    replayed: u64,
}

impl Importer {
    pub(crate) fn new(number: u64, seed: u64) -> Self {
        Self {
            number,
            random: Random::new(seed),
            ward: Ward { era: 0, sender: number },
            gauge: String::new(),
            standing: BTreeMap::new(),
            recorded: BTreeMap::new(),
            under_way: None,
            last: None,
            sheets: 0,
            counts: Counts::default(),
        }
    }

    /// Brings in until there is no answer.
    pub(crate) async fn write(mut self, server: Arc<Server>, cycle: u64, era: u64, done: Arc<AtomicU64>) -> Self {
        self.ward = Ward { era, sender: self.number };
        // The tests of a cycle have a gauge of their own, so that looking at all of them does not grow without end.
        self.gauge = self.ward.hydrant(cycle % ROWS);
        while self.under_way.is_none() {
            let sheet = self.next();
            match bring_in(&server, &sheet).await {
                Ok(reply) => {
                    self.keep(&sheet, &reply.clone().good());
                    self.last = Some((sheet, reply));
                    self.counts.acknowledged += 1;
                    done.fetch_add(1, Ordering::Relaxed);
                }
                Err(_) => self.under_way = Some(sheet),
            }
        }
        self
    }

    fn next(&mut self) -> Sheet {
        self.sheets += 1;
        let number = self.sheets;
        let key = format!("import-{}-{number}", self.number);
        if !self.standing.contains_key(&self.ward) || self.random.percent(50) {
            return Sheet { number, gauge: None, text: self.ward.sheet(number), key };
        }
        let text = self.ward.tests(number, &self.gauge);
        Sheet { number, gauge: Some(self.gauge.clone()), text, key }
    }

    /// A file that is there from now on. Its answer is that of the first time: a second finds nothing new in it.
    fn keep(&mut self, sheet: &Sheet, reply: &Reply) {
        let answer = reply.json();
        let count = |name: &str| answer[name].as_u64().expect("a count");
        if let Some(gauge) = &sheet.gauge {
            assert_eq!((count("created"), count("skipped_count")), (ROWS, 0), "{}: {answer}", sheet.key);
            let (_, sheets) = self.recorded.entry(gauge.clone()).or_insert_with(|| (self.ward, BTreeSet::new()));
            sheets.insert(sheet.number);
        } else {
            assert_eq!(
                (count("created") + count("replaced"), count("unchanged")),
                (ROWS, 0),
                "{}: {answer}",
                sheet.key
            );
            self.standing.insert(self.ward, sheet.number);
        }
    }

    /// Finds out what became of the file that was not answered, and sends it and the last acknowledged one again.
    pub(crate) async fn settle(&mut self, server: &Server) {
        let sheet = self.under_way.take().expect("each brings in until it is killed");
        let whole = self.is_there(server, &sheet).await;
        if whole {
            self.counts.under_way_kept += 1;
        } else {
            self.counts.under_way_absent += 1;
        }
        let answer = bring_in(server, &sheet).await.expect("an answer").good();
        assert_eq!(answer.header("idempotency-replayed") == "true", whole, "{}: {}", sheet.key, answer.json());
        self.keep(&sheet, &answer);
        self.again(server, &sheet, &answer).await;
        if let Some((sheet, answer)) = self.last.take() {
            self.again(server, &sheet, &answer).await;
        }
    }

    /// Whether the file is there; where it is not, what was there before it must be.
    async fn is_there(&self, server: &Server, sheet: &Sheet) -> bool {
        let Some(gauge) = &sheet.gauge else {
            let there = self.ward.standing(server).await;
            let whole = there == Some(sheet.number);
            assert!(whole || there == self.standing.get(&self.ward).copied(), "{there:?} stands");
            return whole;
        };
        let mut there = self.ward.recorded(server, gauge).await;
        let whole = there.remove(&sheet.number);
        let known = self.recorded.get(gauge).map(|(_, sheets)| sheets.clone()).unwrap_or_default();
        assert_eq!(there, known, "tests at {gauge}");
        whole
    }

    async fn again(&mut self, server: &Server, sheet: &Sheet, answer: &Reply) {
        let again = bring_in(server, sheet).await.expect("an answer");
        assert_eq!(again.header("idempotency-replayed"), "true", "{} was not known again", sheet.key);
        assert_eq!((again.status, &again.bytes), (answer.status, &answer.bytes), "{}", sheet.key);
        self.counts.replayed += 1;
    }

    /// The files that are known to be there, and no others: all of them, or those of this cycle.
    pub(crate) async fn check(&self, server: &Server, of_this_cycle: bool) {
        let wanted = |ward: Ward| !of_this_cycle || ward == self.ward;
        for (ward, number) in self.standing.iter().filter(|(ward, _)| wanted(**ward)) {
            assert_eq!(ward.standing(server).await, Some(*number), "{ward:?}");
        }
        for (gauge, (ward, sheets)) in self.recorded.iter().filter(|(gauge, _)| !of_this_cycle || **gauge == self.gauge)
        {
            assert_eq!(&ward.recorded(server, gauge).await, sheets, "{gauge}");
        }
    }
}

/// Looks at every file once more, and tells what was counted.
pub(crate) async fn end(importers: &[Importer], server: &Server) -> String {
    let mut all = Counts::default();
    for importer in importers {
        importer.check(server, false).await;
        let Counts { acknowledged, under_way_kept, under_way_absent, replayed } = importer.counts;
        all.acknowledged += acknowledged;
        all.under_way_kept += under_way_kept;
        all.under_way_absent += under_way_absent;
        all.replayed += replayed;
    }
    let Counts { acknowledged, under_way_kept, under_way_absent, replayed } = all;
    assert!(acknowledged > 0 && under_way_absent > 0, "hardly any file was tried: {all:?}");
    format!(
        "{acknowledged} acknowledged files of {ROWS} rows all there, {under_way_kept} under way wholly there, \
         {under_way_absent} wholly absent and then done, each once in the audit, {replayed} replays the same"
    )
}

/// Each file stands once in the audit of the closed database: what was absent was sent again, and done then.
pub(crate) fn assert_audited(importers: &[Importer], database: &Path) {
    let done = |Counts { acknowledged, under_way_kept, under_way_absent, .. }| {
        acknowledged + under_way_kept + under_way_absent
    };
    let files: u64 = importers.iter().map(|importer| done(importer.counts)).sum();
    assert_eq!(asked(database, "SELECT COUNT(*) FROM audit WHERE action = 'import'"), files.to_string());
}

async fn bring_in(server: &Server, sheet: &Sheet) -> Result<Reply, reqwest::Error> {
    let kind = if sheet.gauge.is_some() { "flow-tests" } else { "hydrants" };
    server.bring_in(kind, &sheet.text, &sheet.key).await
}
