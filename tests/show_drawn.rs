//! `leadsman show --html` and `--svg` as they are run, and the structure of what they write.

mod takes;

use roxmltree::{Document, Node};
use std::fs;
use std::process::Command;
use takes::{Bench, note, smf};

const LINE: &str = "# Hauling in.\n#\n# Trains: <nothing> & all.\n\ntitle = \"Ferry & Steps\"\nmeter = \"2/4\"\n\
     tempo = 120\nswing = \"2:1\"\nkey = \"E minor\"\n[[section]]\nname = \"A\"\npasses = [0, 2]\n\
     chords = \"Em7 | B7\"\nnotes = \"E1/8> G#1/8' r/8 x/8 | B1+F#2/4~ B1+F#2/4\"\nstrokes = \"d u d | u\"\nfingers = \"0 4 1 | 2\"\n";

fn bench() -> Bench {
    Bench::new(LINE)
}

fn drawn(args: &[&str]) -> String {
    let bench = bench();
    // A beat is 500 ms: the first note 50 ms late, the second one missed.
    let played = [
        note(2050.0, 28, 200.0),
        note(2750.0, 40, 60.0),
        note(3000.0, 35, 900.0),
    ];
    bench.write("take.mid", &smf(&played));
    let all = [&["show", "line.toml", "--svg", "line.svg"], args].concat();
    let ran = bench.run(&all);
    assert_eq!(
        (ran.code, ran.err.as_str(), ran.out.as_str()),
        (Some(0), "", "")
    );
    fs::read_to_string(bench.path("line.svg")).expect("the drawing")
}

/// The drawing as an outline: a line an element, what it is and says, without places.
fn outline(node: Node<'_, '_>, depth: usize, lines: &mut Vec<String>) {
    for child in node.children().filter(Node::is_element) {
        let name = child.tag_name().name();
        if matches!(name, "style" | "defs") {
            continue;
        }
        let own = child
            .children()
            .filter(Node::is_text)
            .filter_map(|text| text.text());
        let words: String = own.collect();
        let parts = [
            name,
            child.attribute("class").unwrap_or_default(),
            child.attribute("href").unwrap_or_default(),
            &words,
        ];
        let line = parts
            .iter()
            .filter(|part| !part.is_empty())
            .copied()
            .collect::<Vec<_>>()
            .join(" ");
        lines.push(format!("{}{line}", "  ".repeat(depth)));
        outline(child, depth + 1, lines);
    }
}

#[test]
fn a_drawing_has_this_structure() {
    let drawing = drawn(&[]);
    let document = Document::parse(&drawing).expect("XML");
    let mut lines = Vec::new();
    outline(document.root(), 0, &mut lines);
    insta::assert_snapshot!(lines.join("\n"));
}

#[test]
fn with_a_take_each_note_has_its_ms_and_a_missed_one_a_ring() {
    let drawing = drawn(&["--take", "take.mid", "--start", "2", "--bars", "1"]);
    let document = Document::parse(&drawing).expect("XML");
    let of_class = |class: &str| -> Vec<String> {
        let nodes = document
            .descendants()
            .filter(|node| node.attribute("class") == Some(class));
        nodes
            .filter_map(|node| node.text().map(str::to_string))
            .collect()
    };
    assert_eq!(of_class("late"), ["+50"]);
    assert!(of_class("missed").contains(&"--".to_string()));
    let rings = document
        .descendants()
        .filter(|node| node.has_tag_name(("http://www.w3.org/2000/svg", "circle")));
    assert!(rings.count() > 0);
}

#[test]
fn a_page_needs_nothing_but_itself() {
    let bench = bench();
    let ran = bench.run(&["show", "line.toml", "--html", "line.html", "--pass", "all"]);
    assert_eq!((ran.code, ran.err.as_str()), (Some(0), ""));
    let page = fs::read_to_string(bench.path("line.html")).expect("the page");
    for what in ["<script", "@import", "url(", "src=", "onload="] {
        assert!(!page.contains(what), "{what}");
    }
    let links = page.split("href=\"").skip(1);
    assert!(
        links
            .clone()
            .all(|link| link.starts_with('#') || link.starts_with("data:"))
    );
    assert!(links.count() > 10);
    assert!(page.contains("<html lang=\"en\">") && page.contains("@page"));
    assert!(
        page.contains("Ferry &amp; Steps") && page.contains("Trains: &lt;nothing&gt; &amp; all.")
    );
    assert!(page.contains("pass 2 of 2 (by 0, +2 semitones) · F♯ minor"));
    assert!(page.contains("Bar 2: B1 and F#2 quarter, B1 and F#2 quarter held on."));
}

/// Where there is a Chromium it reads the page and has nothing to say; elsewhere there is nothing to ask.
#[test]
fn a_browser_has_no_complaint_about_the_page() {
    let bench = bench();
    let ran = bench.run(&["show", "line.toml", "--html", "line.html"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    let profile = format!("--user-data-dir={}", bench.path("profile").display());
    let page = format!("file://{}", bench.path("line.html").display());
    let quiet = [
        "--headless",
        "--no-sandbox",
        "--disable-gpu",
        "--no-first-run",
        "--disable-background-networking",
    ];
    let browser = Command::new("chromium")
        .args(quiet)
        .args([&profile, "--enable-logging=stderr", "--dump-dom", &page])
        .output();
    let Ok(browser) = browser else {
        eprintln!("no chromium here: nothing was asked");
        return;
    };
    let said = String::from_utf8_lossy(&browser.stderr);
    assert!(!said.contains("CONSOLE"), "{said}");
    let read = String::from_utf8_lossy(&browser.stdout);
    assert_eq!(read.matches("<svg").count(), 2, "{said}");
    assert!(read.contains("Hauling in."));
}

#[test]
fn a_file_that_is_there_stays_unless_it_is_to_be_replaced() {
    let bench = bench();
    bench.write("line.html", b"mine");
    let ran = bench.run(&["show", "line.toml", "--html", "line.html"]);
    assert_eq!(ran.code, Some(2));
    assert!(ran.err.contains("--force"), "{}", ran.err);
    assert_eq!(
        fs::read(bench.path("line.html")).expect("the file"),
        b"mine"
    );
    let ran = bench.run(&[
        "show",
        "line.toml",
        "--html",
        "line.html",
        "--svg",
        "line.svg",
        "--force",
    ]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    assert!(
        fs::read_to_string(bench.path("line.html"))
            .expect("the page")
            .contains("<svg")
    );
}

#[test]
fn rows_can_be_left_out() {
    let drawing = drawn(&["--without", "chord,finger,stroke"]);
    for class in ["class=\"chord\"", "class=\"finger\"", "#sign-DownStroke"] {
        assert!(!drawing.contains(class), "{class}");
    }
}
