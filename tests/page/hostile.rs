//! Hostile names and hostile clients.

use std::time::Duration;

use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::time::timeout;

use crate::client::{Answer, HANGS, settings, stand, usual};

const NAMES: [&str; 10] = [
    "<script>window.hurt=1</script>",
    "\"><img src=x onerror=\"window.hurt=1\">",
    "' autofocus onfocus='window.hurt=1",
    "</title><svg onload=window.hurt=1>",
    "=HYPERLINK(\"http://evil.example\")",
    "../../../../etc/passwd",
    "\u{202e}drawkcab\u{2066}",
    "\u{0}\u{1b}[2J",
    "&lt;b&gt; &amp; ]]> <!-- -->",
    "\u{d0}\u{be}\u{4e2d}\u{1f372}",
];

#[tokio::test]
async fn no_name_becomes_more_than_a_name() {
    let mut names: Vec<String> = NAMES.iter().map(|name| (*name).to_owned()).collect();
    names.push("x".repeat(100_000));
    for name in names {
        let stand = stand(settings(true), &[("big", &name), ("small", "b")]);
        for path in [
            "/",
            "/pot/big",
            "/batches",
            "/batches/1",
            "/compare?with=1",
            "/metrics",
            "/pot/big/curve.svg",
            "/batches/1/curve.svg",
            "/compare.svg?with=1",
        ] {
            let answer = stand.get(path).await;
            assert_eq!(answer.status, 200, "{path} of {name:.40}");
            for bad in [
                "<script>window",
                "<img src=x",
                "<svg onload",
                " onfocus='",
                "\u{202e}",
                "\u{1b}",
                "\u{0}",
                "<!-- -->",
            ] {
                assert!(!answer.body.contains(bad), "{bad:?} in {path} of {name:.40}");
            }
        }
    }
}

#[tokio::test]
async fn a_path_leads_to_no_file() {
    let stand = usual();
    for path in [
        "/../../etc/passwd",
        "/%2e%2e/%2e%2e/etc/passwd",
        "/pot/..%2f..%2fetc%2fpasswd/curve.svg",
        "/batches/..%2f..%2fetc%2fpasswd",
        "/pot/big%00/curve.svg",
        "/pot/%ff",
        "/batches/1%00",
        "/type.woff2/../../etc/passwd",
        "/batches/99999999999999999999",
    ] {
        let answer = stand.get(path).await;
        assert!([400, 404].contains(&answer.status), "{path}: {}", answer.status);
        assert!(!answer.body.contains("root:"), "{path}");
    }
}

#[tokio::test]
async fn too_much_of_anything_is_refused_and_the_next_is_answered() {
    let stand = usual();
    let host = stand.host();
    let headers: String = (0..10_000).map(|n| format!("x-{n}: y\r\n")).collect();
    let many = format!("GET / HTTP/1.1\r\nhost: {host}\r\n{headers}\r\n");
    let long = format!("GET / HTTP/1.1\r\nhost: {host}\r\nx: {}\r\n\r\n", "y".repeat(1 << 20));
    let path = format!("GET /{} HTTP/1.1\r\nhost: {host}\r\n\r\n", "y".repeat(1 << 20));
    for (request, what) in
        [(many, "10,000 headers"), (long, "a header of 1 MiB"), (path, "a path of 1 MiB")]
    {
        let answer = timeout(HANGS, stand.say(request.as_bytes())).await.unwrap();
        // Where the board closes with the rest unread, its answer may be lost with the connection.
        assert!([431, 414, 400, 0].contains(&answer.status), "{what}: {}", answer.status);
    }
    let token = stand.phones.add("the pass");
    let body = format!("says={}", "y".repeat(1 << 20));
    let answer = stand.post("/pot/big/say", &token, &body).await;
    assert!([413, 0].contains(&answer.status), "{}", answer.status);
    let lines = [
        "GET",
        "\r\n\r\n\r\n\r\n",
        "\0\0\0\0\r\n\r\n",
        "GET / HTTP/9.9\r\n\r\n",
        "\x16\x03\x01\x02",
    ];
    for line in lines {
        let mut stream = stand.connect(1).await;
        let _ = stream.write_all(line.as_bytes()).await;
        let _ = stream.shutdown().await;
        let mut answer = Vec::new();
        let _ = timeout(HANGS, stream.read_to_end(&mut answer)).await.unwrap();
        assert!(![200, 303].contains(&Answer::of(&answer).status), "{line:?}");
    }
    assert_eq!(stand.get("/health").await.status, 200);
    assert!(stand.heard().is_empty());
}

#[tokio::test]
async fn ten_thousand_headers_get_their_own_answer() {
    let stand = usual();
    let headers: String = (0..100).map(|n| format!("x-{n}: y\r\n")).collect();
    let request = format!("GET / HTTP/1.1\r\nhost: {}\r\n{headers}\r\n", stand.host());
    assert_eq!(stand.say(request.as_bytes()).await.status, 431);
}

#[tokio::test]
async fn a_client_that_dawdles_is_let_go_and_keeps_nobody_out() {
    let stand = usual();
    // From one address: half say nothing, half say half a head, one sends its body never.
    let mut idle = Vec::new();
    for n in 0..100 {
        let mut stream = stand.connect(9).await;
        if n % 2 == 0 {
            let _ = stream.write_all(b"GET / HTTP/1.1\r\nhost: ").await;
        }
        idle.push(stream);
    }
    assert_eq!(stand.get("/health").await.status, 200);
    let cookie = stand.phones.add("the pass");
    let mut slow = stand.connect(1).await;
    let (host, length) = (stand.host(), "content-length: 100");
    let head = format!(
        "POST /pot/big/say HTTP/1.1\r\nhost: {host}\r\norigin: http://{host}\r\ncookie: dekchi={cookie}\r\n\
         content-type: application/x-www-form-urlencoded\r\n{length}\r\n\r\ns"
    );
    slow.write_all(head.as_bytes()).await.unwrap();
    let mut answer = Vec::new();
    let _ = timeout(HANGS, slow.read_to_end(&mut answer)).await.unwrap();
    assert_eq!(Answer::of(&answer).status, 408);
    for mut stream in idle {
        let mut rest = Vec::new();
        let _ = timeout(HANGS, stream.read_to_end(&mut rest)).await.unwrap();
        assert!(!String::from_utf8_lossy(&rest).contains("200 OK"));
    }
    assert!(stand.heard().is_empty());
}

#[tokio::test]
async fn who_asks_too_often_waits_and_others_do_not() {
    let stand = usual();
    let mut last = 200;
    for _ in 0..400 {
        last = stand.get("/health").await.status;
        if last == 429 {
            break;
        }
    }
    assert_eq!(last, 429);
    let mut other = stand.connect(7).await;
    let request =
        format!("GET /health HTTP/1.1\r\nhost: {}\r\nconnection: close\r\n\r\n", stand.host());
    other.write_all(request.as_bytes()).await.unwrap();
    let mut answer = Vec::new();
    other.read_to_end(&mut answer).await.unwrap();
    assert_eq!(Answer::of(&answer).status, 200);
    tokio::time::sleep(Duration::from_millis(10)).await;
}
