//! Who may read, who may speak, and by what name the board is called.

use dekchi::serve::Settings;
use dekchi::watch::action::Alarm;
use dekchi::watch::event::CookSays;

use crate::client::{Stand, settings, stand, usual};

const SAY: &str = "/pot/big/say";

fn closed() -> Stand {
    stand(settings(false), &[("big", "Tuesday base")])
}

#[tokio::test]
async fn the_board_answers_to_its_own_names_alone() {
    let stand = usual();
    let port = stand.port();
    let by = |host: String| {
        let stand = &stand;
        async move { stand.ask("GET", "/", &[("host", &host)], "").await.status }
    };
    for own in [format!("127.0.0.1:{port}"), "localhost".into(), format!("dekchi.local:{port}")] {
        assert_eq!(by(own.clone()).await, 200, "{own}");
    }
    // DNS rebinding: a foreign name that was made to point here.
    for foreign in
        ["evil.example", "127.0.0.2", "127.0.0.1.evil.example", "[::1]", "dekchi.local.evil"]
    {
        assert_eq!(by(foreign.into()).await, 421, "{foreign}");
    }
}

#[tokio::test]
async fn a_request_names_one_host() {
    let stand = usual();
    let host = stand.host();
    let with = |head: String| {
        let stand = &stand;
        async move { stand.say(format!("{head}connection: close\r\n\r\n").as_bytes()).await.status }
    };
    assert_eq!(with("GET / HTTP/1.1\r\n".into()).await, 400);
    let two = format!("GET / HTTP/1.1\r\nhost: {host}\r\nhost: evil.example\r\n");
    assert_eq!(with(two).await, 400);
    let absolute = format!("GET http://evil.example/ HTTP/1.1\r\nhost: {host}\r\n");
    assert_eq!(with(absolute).await, 400);
    let own = format!("GET http://{host}/ HTTP/1.1\r\nhost: {host}\r\n");
    assert_eq!(with(own).await, 200);
}

#[tokio::test]
async fn what_does_not_come_from_the_page_itself_is_not_heard() {
    let forged: [&[(&str, &str)]; 8] = [
        &[],
        &[("origin", "http://evil.example")],
        &[("origin", "null")],
        &[("origin", "OTHER PORT")],
        &[("origin", "OURS"), ("sec-fetch-site", "cross-site")],
        &[("origin", "OURS"), ("sec-fetch-site", "same-site")],
        &[("sec-fetch-site", "same-origin")],
        &[("referer", "OURS")],
    ];
    for headers in forged {
        // A board for each, so that none is refused for asking too often.
        let stand = usual();
        let cookie = format!("dekchi={}", stand.phones.add("the pass"));
        let ours = format!("http://{}", stand.host());
        let other_port = format!("http://127.0.0.1:{}", stand.port().wrapping_add(1));
        let filled = |value| match value {
            "OURS" => ours.clone(),
            "OTHER PORT" => other_port.clone(),
            value => value.to_owned(),
        };
        let filled: Vec<_> = headers.iter().map(|(name, value)| (*name, filled(*value))).collect();
        let mut headers: Vec<_> = filled.iter().map(|(n, value)| (*n, value.as_str())).collect();
        headers.push(("cookie", &cookie));
        for path in [SAY, "/forget", "/look", "/pair", "/push"] {
            let answer = stand.ask("POST", path, &headers, "says=stirred").await;
            assert_eq!(answer.status, 403, "{path} {headers:?}");
        }
        assert!(stand.heard().is_empty());
    }
    let stand = usual();
    let (ours, token) = (format!("http://{}", stand.host()), stand.phones.add("the pass"));
    let cookie = format!("dekchi={token}");
    let headers =
        [("origin", ours.as_str()), ("sec-fetch-site", "same-origin"), ("cookie", &cookie)];
    assert_eq!(stand.ask("POST", SAY, &headers, "says=stirred").await.status, 303);
    assert_eq!(stand.heard(), [CookSays::Stirred]);
}

#[tokio::test]
async fn nothing_is_changed_by_reading() {
    let stand = usual();
    let cookie = format!("dekchi={}", stand.phones.add("the pass"));
    let ours = format!("http://{}", stand.host());
    for method in ["GET", "HEAD", "PUT", "DELETE", "OPTIONS", "TRACE", "SAY"] {
        for path in [SAY, "/forget", "/look"] {
            let path = format!("{path}?says=stirred&look=dark");
            let headers = [("cookie", cookie.as_str()), ("origin", ours.as_str())];
            let answer = stand.ask(method, &path, &headers, "").await;
            assert_eq!(answer.status, 405, "{method} {path}");
        }
    }
    assert!(stand.heard().is_empty());
    assert_eq!(stand.get("/pair?code=K7PM-2XQA").await.header("set-cookie"), None);
}

#[tokio::test]
async fn only_a_paired_phone_speaks_and_a_forgotten_one_does_not() {
    let stand = usual();
    for wrong in ["", "x", "AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA"] {
        assert_eq!(stand.post(SAY, wrong, "says=stirred").await.status, 403, "{wrong}");
    }
    let token = stand.phones.add("the pass");
    assert_eq!(stand.post(SAY, &token, "says=acknowledge+stir-due").await.status, 303);
    assert_eq!(stand.heard(), [CookSays::Acknowledge(Alarm::StirDue)]);
    assert_eq!(stand.heard.lock().unwrap()[0].2, "the pass");
    let page = stand.get("/").await.body;
    assert!(page.contains("Seen: stir due") && page.contains("(the pass)"), "{page}");
    let gone = stand.post("/forget", &token, "").await;
    assert!(gone.header("set-cookie").unwrap().contains("max-age=0"));
    assert_eq!(stand.post(SAY, &token, "says=stirred").await.status, 403);
    assert_eq!(stand.heard().len(), 1);
}

#[tokio::test]
async fn what_was_not_understood_is_said_in_a_sentence() {
    let stand = usual();
    let token = stand.phones.add("the pass");
    let answer = stand.post(SAY, &token, "says=stired").await;
    assert_eq!(answer.status, 422);
    assert!(answer.body.contains("did you mean &quot;stirred&quot;?"), "{}", answer.body);
    let answer = stand.post(SAY, &token, "amount=1%2C5&unit=kg&what=cream").await;
    assert_eq!(answer.status, 303);
    let cream = CookSays::Added { kg: 1.5, name: Some("cream".into()) };
    assert_eq!(stand.heard(), [cream]);
    for silent in ["", "amount=1", "says=", &format!("says={}", "x".repeat(200))] {
        assert_eq!(stand.post(SAY, &token, silent).await.status, 422, "{silent}");
    }
}

#[tokio::test]
async fn a_code_pairs_one_phone_and_wrong_ones_are_slowed() {
    let stand = closed();
    stand.phones.offer("K7PM-2XQA");
    let paired = stand.post("/pair", "", "code=k7pm+2xqa&name=the+pass").await;
    assert_eq!(paired.status, 303);
    let cookie = paired.header("set-cookie").unwrap();
    for part in ["httponly", "samesite=lax", "path=/", "max-age="] {
        assert!(cookie.contains(part), "{cookie}");
    }
    let mut refused = Vec::new();
    for _ in 0..8 {
        refused.push(stand.post("/pair", "", "code=k7pm2xqa&name=another").await.status);
    }
    assert_eq!(refused, [403, 403, 403, 403, 429, 429, 429, 429]);
}

#[tokio::test]
async fn a_closed_page_shows_only_its_door() {
    let stand = closed();
    for path in [
        "/",
        "/pot/big",
        "/pot/big/curve.svg",
        "/stream",
        "/batches",
        "/batches/1",
        "/compare.svg?with=1",
        "/batches/1/curve.svg",
        "/compare",
        "/metrics",
        "/nothing",
        "/Health",
        "//health",
        "/health/",
    ] {
        let answer = stand.get(path).await;
        assert_eq!(answer.status, 401, "{path}");
        assert!(!answer.body.contains("Tuesday base") && !answer.body.contains("98"), "{path}");
    }
    for path in ["/pair", "/health", "/look.css", "/alive.js", "/mark.svg", "/type.woff2"] {
        let answer = stand.get(path).await;
        assert_eq!(answer.status, 200, "{path}");
        assert!(!answer.body.contains("Tuesday base") && !answer.body.contains("big"), "{path}");
    }
    let token = stand.phones.add("the pass");
    let cookie = format!("dekchi={token}");
    assert_eq!(stand.ask("GET", "/", &[("cookie", &cookie)], "").await.status, 200);
    let bearer = format!("Bearer {token}");
    assert_eq!(stand.ask("GET", "/metrics", &[("authorization", &bearer)], "").await.status, 200);
}

#[tokio::test]
async fn only_a_paired_phone_is_offered_to_be_told_while_the_page_is_closed() {
    let stand = usual();
    let asked = "person=pass&subscription=%7B%7D";
    assert!(!stand.get("/").await.body.contains("id=\"pocket\""));
    assert_eq!(stand.post("/push", "", asked).await.status, 403);
    assert!(stand.told.lock().unwrap().is_empty());
    let token = stand.phones.add("the pass");
    let cookie = format!("dekchi={token}");
    let page = stand.ask("GET", "/", &[("cookie", &cookie)], "").await.body;
    assert!(
        page.contains("data-key=\"BKey\"") && page.contains("chef&#39;s &quot;own&quot;"),
        "{page}"
    );
    assert_eq!(stand.post("/push", &token, asked).await.status, 200);
    assert_eq!(*stand.told.lock().unwrap(), [("pass".to_owned(), "{}".to_owned())]);
}

#[tokio::test]
async fn the_look_is_chosen_without_a_script_and_leads_back() {
    let stand = usual();
    let chosen = stand.post("/look", "", "look=dark&back=%2Fpot%2Fbig").await;
    assert_eq!((chosen.status, chosen.header("location")), (303, Some("/pot/big")));
    assert!(chosen.header("set-cookie").unwrap().starts_with("look=dark;"));
    let dark = stand.ask("GET", "/", &[("cookie", "look=dark")], "").await.body;
    assert!(dark.contains("data-look=\"dark\"") && !dark.contains("prefers-color-scheme"));
    let elsewhere = stand.post("/look", "", "look=dark&back=%2F%2Fevil.example").await;
    assert_eq!(elsewhere.header("location"), Some("/"));
}

#[tokio::test]
async fn a_board_on_every_address_answers_to_the_one_it_was_reached_by() {
    let listen = "0.0.0.0:0".parse().unwrap();
    let stand = stand(Settings { listen, ..settings(true) }, &[("big", "a")]);
    let ask = |host: &'static str| {
        let stand = &stand;
        async move { stand.ask("GET", "/health", &[("host", host)], "").await.status }
    };
    assert_eq!(ask("127.0.0.1").await, 200);
    assert_eq!(ask("0.0.0.0").await, 421);
    assert_eq!(ask("192.0.2.1").await, 421);
}
