use longlay_tests::Service;

#[tokio::test]
async fn the_type_of_a_problem_leads_to_its_page() {
    let service = Service::start().await;
    let problem = service.get("/v1/hydrants/none").await.problem(404, "not-found");
    let page = problem.document["type"].as_str().unwrap().strip_prefix(&service.url).unwrap().to_owned();
    let page = service.get(&page).await.ok();
    assert_eq!(page["type"], problem.document["type"]);
    assert_eq!(
        (&page["slug"], &page["status"], &page["title"]),
        (&"not-found".into(), &404.into(), &problem.document["title"])
    );
    assert!(page["meaning"].as_str().unwrap().len() > 20, "{page}");
}

#[tokio::test]
async fn every_type_has_a_page() {
    let service = Service::start().await;
    let list = service.get("/problems").await.ok();
    let items = list["items"].as_array().unwrap();
    assert!(items.len() >= 18, "{}", items.len());
    for item in items {
        assert_eq!(service.get(&format!("/problems/{}", item["slug"].as_str().unwrap())).await.ok(), *item);
    }
}

#[tokio::test]
async fn a_type_that_does_not_exist_has_none() {
    Service::start().await.get("/problems/bad-luck").await.problem(404, "not-found");
}
