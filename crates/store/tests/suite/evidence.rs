use longlay_records::flow_test::FlowTest;
use longlay_records::hydrant::Hydrant;
use longlay_records::supply::Evidence;
use longlay_store::HydrantQuery;

use crate::support::{Fresh, change, flow_test, fresh, full_hydrant, hydrant, id, test_id, voided};

fn on_main(number: &str, main: &str) -> Hydrant {
    Hydrant { main_id: Some(main.to_owned()), ..hydrant(number) }
}

/// Four hydrants: `A` and `B` on one main, `C` on another, `D` on none; and five tests.
async fn district() -> Fresh {
    let db = fresh().await;
    for one in [on_main("A", "M-1"), on_main("B", "M-1"), on_main("C", "M-2"), hydrant("D"), hydrant("E")] {
        db.store.put_hydrant(&one, &change()).await.unwrap();
    }
    let flowed = |n, gauge, flowed: &[&str]| FlowTest {
        flow_hydrant_ids: flowed.iter().map(|number| id(number)).collect(),
        ..flow_test(n, gauge)
    };
    for test in [
        flowed(1, "A", &["B"]),
        flowed(2, "A", &["A"]),
        flowed(3, "B", &["D", "A"]),
        flowed(4, "C", &["B"]),
        flowed(5, "E", &[]),
    ] {
        db.store.add_flow_test(&test, &change()).await.unwrap();
    }
    db.store.void_flow_test(&id("A"), test_id(2), &voided(), &change()).await.unwrap();
    db
}

fn tests_and_gauges(evidence: &Evidence) -> Vec<(u64, String)> {
    let mut found: Vec<_> = evidence
        .tests
        .iter()
        .map(|gauged| {
            let seconds = gauged.test.id.get_timestamp().unwrap().to_unix().0;
            assert_eq!(gauged.gauge.id, gauged.test.gauge_hydrant_id);
            (seconds - 1_700_000_000, gauged.gauge.id.to_string())
        })
        .collect();
    found.sort();
    found
}

fn expected(pairs: &[(u64, &str)]) -> Vec<(u64, String)> {
    pairs.iter().map(|(n, gauge)| (*n, (*gauge).to_owned())).collect()
}

const BEARING: [(&str, &[(u64, &str)]); 5] = [
    ("A", &[(1, "A"), (2, "A"), (3, "B")]),
    ("B", &[(1, "A"), (2, "A"), (3, "B"), (4, "C")]),
    ("C", &[(4, "C")]),
    ("D", &[(3, "B")]),
    ("E", &[(5, "E")]),
];

#[tokio::test]
async fn evidence_is_own_flowed_and_same_main_each_once_voided_too() {
    let db = district().await;
    for (number, pairs) in BEARING {
        let evidence = db.store.evidence(&id(number)).await.unwrap().unwrap();
        assert_eq!(evidence.hydrant.id, id(number));
        assert_eq!(tests_and_gauges(&evidence), expected(pairs), "{number}");
    }
    let of_a = db.store.evidence(&id("A")).await.unwrap().unwrap();
    let second = of_a.tests.iter().find(|gauged| gauged.test.id == test_id(2)).unwrap();
    assert_eq!(second.test.voided, Some(voided()), "voided tests come along, marked");
}

#[tokio::test]
async fn hydrants_without_a_main_share_none() {
    let db = fresh().await;
    for one in [hydrant("A"), hydrant("B")] {
        db.store.put_hydrant(&one, &change()).await.unwrap();
    }
    db.store.add_flow_test(&flow_test(1, "A"), &change()).await.unwrap();
    assert!(db.store.evidence(&id("B")).await.unwrap().unwrap().tests.is_empty());
}

#[tokio::test]
async fn a_retired_gauge_hydrant_still_bears_witness_but_is_not_asked() {
    let db = fresh().await;
    let gauge = Hydrant { main_id: Some("M-1".to_owned()), ..full_hydrant("A") };
    db.store.put_hydrant(&gauge, &change()).await.unwrap();
    db.store.put_hydrant(&on_main("B", "M-1"), &change()).await.unwrap();
    db.store.add_flow_test(&flow_test(1, "A"), &change()).await.unwrap();
    db.store.retire_hydrant(&id("A"), &change()).await.unwrap();

    let evidence = db.store.evidence(&id("B")).await.unwrap().unwrap();
    assert_eq!(tests_and_gauges(&evidence), expected(&[(1, "A")]));
    assert_eq!(evidence.tests[0].gauge, gauge.into());
    assert_eq!(db.store.evidence(&id("A")).await, Ok(None));
    assert_eq!(db.store.evidence(&id("Z")).await, Ok(None));
}

#[tokio::test]
async fn a_page_of_evidence_is_the_page_of_hydrants_with_the_evidence_of_each() {
    let db = district().await;
    let mut found: Vec<Evidence> = Vec::new();
    loop {
        let after = found.last().map(|last| last.hydrant.id.clone());
        let page = db.store.evidence_page(&HydrantQuery::default(), after.as_ref(), 2).await.unwrap();
        if page.is_empty() {
            break;
        }
        found.extend(page);
    }
    assert_eq!(found.len(), BEARING.len());
    for (evidence, (number, pairs)) in found.iter().zip(BEARING) {
        assert_eq!(evidence.hydrant.id, id(number));
        assert_eq!(tests_and_gauges(evidence), expected(pairs), "{number}");
        assert_eq!(db.store.evidence(&id(number)).await, Ok(Some(evidence.clone())));
    }
    let none_in_service = HydrantQuery { in_service: Some(false), ..HydrantQuery::default() };
    assert_eq!(db.store.evidence_page(&none_in_service, None, 10).await, Ok(Vec::new()));
}
