//! The form within another page: which pages may show it, as the headers tell it. What the two pages say to each other is tried
//! in a browser, in `page/embed.rs`.

use clap::Parser;
use toile::config::{Cli, Command, Portal};
use toile_tests::{Answer, Service, limits, service};

fn frame_ancestors(answer: &Answer) -> String {
    let policy = answer.header("content-security-policy");
    let part = policy.split("; ").find(|part| part.starts_with("frame-ancestors "));
    part.unwrap_or_else(|| panic!("no frame-ancestors in {policy}")).to_owned()
}

#[test]
fn nobody_may_show_the_form_who_is_not_named() {
    let page = service().get("/embed");
    assert_eq!((page.status, page.header("content-type")), (200, "text/html; charset=utf-8"));
    assert_eq!(frame_ancestors(&page), "frame-ancestors 'none'");
    assert!(page.text().contains("<meta name=\"toile-embed-origins\" content=\"\">"));
}

#[test]
fn those_named_may_show_the_form_and_nothing_else() {
    let origins = ["http://127.0.0.1:8470", "https://portal.example"];
    let portal = Portal { embed_origins: origins.map(str::to_owned).to_vec(), ..Portal::default() };
    let service = Service::start_beside(limits(), portal, None);
    let page = service.get("/embed");
    assert_eq!(frame_ancestors(&page), "frame-ancestors http://127.0.0.1:8470 https://portal.example");
    assert_eq!(page.header("cross-origin-resource-policy"), "cross-origin");
    assert!(page.header("content-security-policy").starts_with("default-src 'none'; script-src 'self'; "));
    assert!(page.text().contains("<meta name=\"toile-embed-origins\" content=\"http://127.0.0.1:8470 https://portal.example\">"));
    for path in ["/", "/index.html", "/reference/", "/api/v1/threads", "/embed/", "/embedded"] {
        let other = service.get(path);
        assert_eq!(frame_ancestors(&other), "frame-ancestors 'none'", "{path}");
        assert_eq!(other.header("cross-origin-resource-policy"), "same-origin", "{path}");
    }
    // One form, not two: the page shown within another one is the page itself, with three lines more in its head.
    let (own, shown) = (service.get("/"), page.text().replacen("</head>", "", 1));
    assert!(own.text().lines().filter(|line| *line != "</head>").all(|line| shown.contains(line)));
}

#[test]
fn an_origin_is_taken_as_browsers_tell_it_or_refused() {
    let told = |origins: &[&str]| -> Result<Vec<String>, String> {
        let arguments = ["toile", "serve"].into_iter().chain(origins.iter().flat_map(|origin| ["--embed-origin", *origin]));
        let cli = Cli::try_parse_from(arguments).map_err(|error| error.to_string())?;
        match cli.command {
            Some(Command::Serve(serve)) => Ok(Portal::from(&serve.portal).embed_origins),
            other => panic!("{other:?}"),
        }
    };
    assert_eq!(told(&[]), Ok(Vec::new()));
    assert_eq!(
        told(&["https://Portal.Example:443/", "http://[::1]:8470"]),
        Ok(vec!["http://[::1]:8470".into(), "https://portal.example".into()])
    );
    for odd in [
        "*",
        "https://*.example",
        "portal.example",
        "https://portal.example/page",
        "https://u@portal.example",
        "file:///x",
        "https://a;b",
        "null",
        "",
    ] {
        assert!(told(&[odd]).is_err(), "{odd} is taken as {:?}", told(&[odd]));
    }
}
