//! What is read.

use crate::client::{settings, stand, usual};

const PAGES: [&str; 8] = [
    "/",
    "/pot/big",
    "/batches",
    "/batches/1",
    "/compare",
    "/compare?with=1&with=1&at=boil",
    "/pair",
    "/pair?code=ABCD-EFGH",
];

#[tokio::test]
async fn every_page_is_a_whole_one_with_its_guarding_headers() {
    let stand = usual();
    for path in PAGES {
        let page = stand.get(path).await;
        assert_eq!(page.status, 200, "{path}");
        assert_eq!(page.header("content-type"), Some("text/html; charset=utf-8"), "{path}");
        let policy = page.header("content-security-policy").unwrap();
        assert!(policy.starts_with("default-src 'none'; script-src 'self';"), "{policy}");
        assert!(!policy.contains("unsafe") && policy.contains("frame-ancestors 'none'"));
        assert_eq!(page.header("x-content-type-options"), Some("nosniff"));
        assert_eq!(page.header("referrer-policy"), Some("same-origin"));
        assert_eq!(page.header("cache-control"), Some("no-store"));
        assert!(
            page.body.starts_with("<!DOCTYPE html>") && page.body.ends_with("</html>"),
            "{path}"
        );
    }
}

#[tokio::test]
async fn nothing_stands_inline_that_the_policy_would_refuse() {
    let stand = usual();
    for path in PAGES {
        let page = stand.get(path).await.body;
        for inline in
            [" style=", " onclick=", " onload=", " onsubmit=", "<style", "javascript:", "<script>"]
        {
            assert!(!page.contains(inline), "{inline} in {path}");
        }
        for elsewhere in ["http://", "https://", "src=\"//", "href=\"//"] {
            assert!(!page.contains(elsewhere), "{elsewhere} in {path}");
        }
    }
}

#[tokio::test]
async fn the_first_glance_is_in_the_page_without_a_script() {
    let page = usual().get("/").await.body;
    for words in ["Ready about", "between", "Stir within 4 min", ": Tuesday base in, 0.50 kg"] {
        assert!(page.contains(words), "{words}");
    }
}

#[tokio::test]
async fn several_pots_stand_on_the_pass_and_each_has_its_page() {
    let stand = stand(settings(true), &[("big", "a"), ("two by two", "b"), ("50 % / . #?", "c")]);
    let pass = stand.get("/").await.body;
    for path in ["/pot/big", "/pot/two%20by%20two", "/pot/50%20%25%20%2F%20%2E%20%23%3F"] {
        assert!(pass.contains(&format!("href=\"{path}\"")), "{path}");
        assert_eq!(stand.get(path).await.status, 200, "{path}");
        assert_eq!(stand.get(&format!("{path}/curve.svg")).await.status, 200, "{path}");
    }
}

#[tokio::test]
async fn a_curve_comes_in_each_width_and_light_as_a_picture_that_runs_nothing() {
    let stand = usual();
    let mut seen = Vec::new();
    for size in ["narrow", "middle", "wide"] {
        for look in ["light", "dark"] {
            let answer =
                stand.get(&format!("/pot/big/curve.svg?size={size}&look={look}&drawn=1")).await;
            assert_eq!(
                (answer.status, answer.header("content-type")),
                (200, Some("image/svg+xml"))
            );
            assert!(answer.header("content-security-policy").unwrap().ends_with("sandbox"));
            assert!(answer.body.starts_with("<svg") && answer.body.ends_with("</svg>\n"), "{size}");
            assert!(!seen.contains(&answer.body));
            seen.push(answer.body);
        }
    }
    assert_eq!(stand.get("/batches/1/curve.svg").await.status, 200);
    assert_eq!(stand.get("/compare.svg?with=1").await.status, 200);
}

#[tokio::test]
async fn what_changes_only_with_the_program_is_sent_once() {
    let stand = usual();
    for path in ["/look.css", "/alive.js", "/mark.svg", "/type.woff2", "/type-bold.woff2"] {
        let first = stand.get(path).await;
        assert_eq!(first.status, 200, "{path}");
        let tag = first.header("etag").unwrap();
        let again = stand.ask("GET", path, &[("if-none-match", tag)], "").await;
        assert_eq!((again.status, again.body.len()), (304, 0), "{path}");
    }
}

#[tokio::test]
async fn metrics_are_openmetrics_and_health_is_told_to_supervisors() {
    let stand = usual();
    let metrics = stand.get("/metrics").await;
    let kind = "application/openmetrics-text; version=1.0.0; charset=utf-8";
    assert_eq!(metrics.header("content-type"), Some(kind));
    assert!(metrics.body.contains("dekchi_pot_celsius{pot=\"big\"} 98\n"), "{}", metrics.body);
    assert!(metrics.body.contains("dekchi_alert{pot=\"big\",dekchi_alert=\"stir-due\"} 1\n"));
    assert!(metrics.body.ends_with("# EOF\n"));
    let health = stand.get("/health").await;
    assert_eq!(health.status, 200);
    assert!(health.body.contains("\"status\":\"pass\""), "{}", health.body);
}

#[tokio::test]
async fn what_is_not_there_is_not_found() {
    let stand = usual();
    for path in
        ["/pot/small", "/batches/2", "/batches/2/curve.svg", "/index.html", "/compare?with=2"]
    {
        assert_eq!(stand.get(path).await.status, 404, "{path}");
    }
    assert_eq!(stand.get("/batches/one").await.status, 400);
}
