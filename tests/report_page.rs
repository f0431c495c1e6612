//! The report of a take as a page: its structure, its bounds, and what a Chromium finds in it.

mod browser;
mod takes;

use browser::{Browser, View, faults};
use leadsman::expected::tempo_map::Speed;
use leadsman::expected::{Expected, unroll};
use leadsman::findings::evidence::Evidence;
use leadsman::findings::lean::lean;
use leadsman::findings::tell;
use leadsman::judge::by_section::by_section;
use leadsman::judge::convention::convention;
use leadsman::judge::judge::judge;
use leadsman::judge::summary::summarise;
use leadsman::judge::{Judgement, Settings};
use leadsman::line::Line;
use leadsman::line::parse::parse;
use leadsman::played::TimedMessage;
use leadsman::report::html::{Head, Section, TakePage, take_page};
use leadsman::report::{Checked, LineFacts, LineSource, StartFrom, TakeFacts};
use leadsman::stand_in::{Habits, play};
use scraper::{ElementRef, Html, Selector};
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use takes::{Bench, note, smf};

const LINE: &str = "title = \"Ferry <Steps> & \\\"Chains\\\"\"\nmeter = \"4/4\"\ntempo = 120\nswing = \"2:1\"\nkey = \"E minor\"\n\
     [[section]]\nname = \"Ramp\"\npasses = [0, 2]\nchords = \"Em7 | B7 | Em7 | B7\"\n\
     notes = \"E1/8 G1/8 A1/8 B1/8 E2/8' D2/8 B1/8 G1/8 | r/8 B1/8 F#1/8 B1/8 D2/8 F#2/8 B1/4 | \
              E1/8 G1/8 A1/8 B1/8 E2/8 D2/8 B1/8 G1/8 | r/4 B1+F#2/4~ B1+F#2/4 x/4\"\n\
     strokes = \"d u d u d u d u | u d u d u d | d u d u d u d u | d d\"\n\
     [[section]]\nname = \"Lower deck\"\nnotes = \"E:5/4 B1/4 r/4 B1/4 | E1/1\"\n";

/// A judged take.
struct Taken {
    line: Line,
    expected: Expected,
    judgement: Judgement,
    settings: Settings,
}

impl Taken {
    fn of(line: &str, events: impl FnOnce(&Expected) -> Vec<TimedMessage>) -> Taken {
        let line = parse(line, "line.toml").unwrap_or_else(|m| panic!("{}", m.render(false)));
        let expected = Arc::new(unroll(&line, Speed::WRITTEN));
        let settings = Settings::default();
        let events = events(&expected);
        Taken {
            line,
            judgement: judge(Arc::clone(&expected), &settings, events.into_iter()),
            expected: (*expected).clone(),
            settings,
        }
    }

    fn played(line: &str, habits: &str) -> Taken {
        let habits: Habits = habits.parse().expect("habits");
        Taken::of(line, |expected| play(expected, &habits, 1))
    }

    fn page(&self) -> String {
        self.page_with(Head::default(), Vec::new())
    }

    fn page_with(&self, head: Head, more: Vec<Section>) -> String {
        let (expected, judgement) = (&self.expected, &self.judgement);
        let evidence = Evidence::new(expected, judgement, &self.settings.windows);
        let told = tell(&evidence);
        let checked = Checked {
            line: LineFacts {
                title: self.line.title.clone(),
                file: "line.toml".into(),
                tempo: 120.0,
                speed: 100.0,
                bars: None,
                notes: expected.notes.len(),
                source: LineSource::File,
            },
            take: TakeFacts {
                file: Some("take.mid".into()),
                start_s: 0.0,
                played: judgement.played.len(),
                start_from: StartFrom::Take,
                trust: None,
            },
            expected,
            judgement,
            settings: &self.settings,
            summary: summarise(expected, judgement),
            convention: convention(&[], &[]),
            sections: by_section(expected, judgement),
            lean: lean(&evidence),
            tempi: told.tempi,
            self_paced: told.self_paced,
            findings: told.findings,
        };
        take_page(&TakePage {
            line: &self.line,
            whole: expected,
            checked: &checked,
            head,
            more,
        })
    }
}

/// A player with much to work on.
const HABITS: &str =
    "late-entries,missed-muting,spread-ms=14,dropped=0.05,wrong-frets=0.08,extra=0.05,mean-ms=14";

/// A line of so many notes.
fn long_line(notes: usize) -> String {
    let passes = vec!["0"; notes / 40].join(", ");
    let bar = "E1/8 G1/8 A1/8 B1/8 E2/8 D2/8 B1/8 G1/8";
    let bars = [bar; 5].join(" | ");
    format!(
        "title = \"Long\"\nmeter = \"4/4\"\ntempo = 120\n[[section]]\nname = \"A\"\npasses = [{passes}]\nnotes = \"{bars}\"\n"
    )
}

fn select<'a>(html: &'a Html, css: &str) -> Vec<ElementRef<'a>> {
    let selector = Selector::parse(css).expect("a selector");
    html.select(&selector).collect()
}

fn words(element: &ElementRef<'_>) -> String {
    element.text().collect()
}

/// What holds for every page, whatever was played.
fn is_sound(page: &str) -> Html {
    let html = Html::parse_document(page);
    // The parser of a browser forgives; it says here what it forgave.
    assert!(html.errors.is_empty(), "{:?}", html.errors);
    needs_nothing_else(page);
    let mut ids = BTreeSet::new();
    for element in select(&html, "[id]") {
        let id = element.value().id().expect("an id");
        assert!(ids.insert(id.to_string()), "{id} is there twice");
    }
    for element in select(&html, "a[href^='#']") {
        let to = &element.attr("href").expect("a link")[1..];
        assert!(ids.contains(to), "{to} is not there");
    }
    for name in ["aria-labelledby", "aria-describedby"] {
        for element in select(&html, &format!("[{name}]")) {
            let to = element.attr(name).expect("an id");
            assert!(ids.contains(to), "{to} is not there");
        }
    }
    has_landmarks(&html);
    headings_are_in_order(&html);
    pictures_are_told(&html);
    drawings_are_xml(page);
    html
}

fn needs_nothing_else(page: &str) {
    for what in [
        "<script",
        "@import",
        "url(",
        "src=",
        "onload=",
        "<link rel=\"style",
        "var(--)",
        "NaN",
        "inf",
    ] {
        let found = page
            .find(what)
            .map(|at| &page[at.saturating_sub(40)..(at + 40).min(page.len())]);
        assert!(
            found.is_none() || found.is_some_and(|found| found.contains("info")),
            "{what}: {found:?}"
        );
    }
}

fn has_landmarks(html: &Html) {
    assert_eq!(select(html, "html[lang=en]").len(), 1);
    for once in [
        "body > header",
        "body > nav[aria-label]",
        "body > main",
        "body > footer",
        "h1",
    ] {
        assert_eq!(select(html, once).len(), 1, "{once}");
    }
    let first = select(html, "body > *")[0];
    assert_eq!(
        (first.value().name(), first.attr("href")),
        ("a", Some("#main"))
    );
    let listed: Vec<String> = select(html, "nav a").iter().map(words).collect();
    let sections: Vec<String> = select(html, "h2").iter().map(words).collect();
    assert_eq!(listed, sections);
}

fn headings_are_in_order(html: &Html) {
    let mut before = 0;
    for heading in select(html, "h1, h2, h3, h4, h5, h6") {
        let level: u8 = heading.value().name()[1..].parse().expect("a level");
        assert!(level <= before + 1, "{}", heading.html());
        assert!(!words(&heading).trim().is_empty());
        before = level;
    }
}

fn pictures_are_told(html: &Html) {
    for figure in select(html, "figure") {
        let part = |css: &str| {
            figure
                .select(&Selector::parse(css).expect("a selector"))
                .count()
        };
        assert_eq!(part("svg[role=img][aria-label]"), 1);
        assert_eq!(part("figcaption"), 1);
        assert!(
            part("details table tbody tr") > 0,
            "{}",
            figure.attr("id").unwrap_or_default()
        );
    }
    for region in select(html, ".scroll") {
        assert_eq!(
            (region.attr("tabindex"), region.attr("role")),
            (Some("0"), Some("region"))
        );
        assert!(
            region
                .attr("aria-label")
                .is_some_and(|name| !name.is_empty())
        );
    }
    for drawing in select(html, "svg.system") {
        assert_eq!(drawing.attr("role"), Some("img"));
    }
}

fn drawings_are_xml(page: &str) {
    for drawing in page.split("<svg").skip(1) {
        let inside = drawing.split("</svg>").next().expect("an end");
        let svg = format!("<svg{inside}</svg>");
        let document =
            roxmltree::Document::parse(&svg).unwrap_or_else(|error| panic!("{error}: {svg}"));
        for node in document
            .descendants()
            .filter(|node| node.has_tag_name("polyline"))
        {
            assert_eq!(node.attribute("fill"), Some("none"));
        }
    }
}

#[test]
fn a_take_with_much_to_work_on_has_every_part_of_a_page() {
    let page = Taken::played(LINE, HABITS).page();
    let html = is_sound(&page);
    let charts = [
        "offsets", "beats", "swing", "lengths", "rings", "strings", "strokes", "fingers",
    ];
    for chart in charts {
        assert_eq!(
            select(&html, &format!("figure#{chart}-chart")).len(),
            1,
            "{chart}"
        );
    }
    for unit in [
        "offset, ms",
        "beat 1, s",
        "place in the bar, beats",
        "long : short",
        "%",
        "ring-over, ms",
    ] {
        let axes = select(&html, "svg.chart text");
        assert!(axes.iter().any(|axis| words(axis).contains(unit)), "{unit}");
    }
    assert!(page.contains("Ferry &lt;Steps&gt; &amp; &quot;Chains&quot;"));
    let groups: BTreeSet<String> = select(&html, "#strings-chart svg text")
        .iter()
        .map(|text| words(text).trim().to_string())
        .collect();
    assert!(
        groups.contains("E, written") && groups.contains("E, likely"),
        "{groups:?}"
    );
}

#[test]
fn each_note_is_drawn_with_its_offset_its_ruler_and_its_length() {
    let taken = Taken::played(LINE, HABITS);
    let html = is_sound(&taken.page());
    let notes = select(&html, "g.played-note[id]");
    assert_eq!(notes.len(), taken.expected.notes.len());
    for (reading, group) in taken.judgement.readings.iter().zip(&notes) {
        assert_eq!(
            group.attr("id"),
            Some(format!("note-{}", reading.note).as_str())
        );
        let has = |css: &str| {
            group
                .select(&Selector::parse(css).expect("a selector"))
                .count()
        };
        assert_eq!((has(".asked"), has("title"), has("rect.frame")), (1, 1, 1));
        assert_eq!(has(".ruler"), 2);
        let Some(partner) = reading.partner else {
            assert_eq!(
                (has("text.missed"), has(".sounded, .short, .long")),
                (1, 0),
                "{}",
                reading.note
            );
            continue;
        };
        assert_eq!(has(".sounded, .short, .long"), 1);
        let said = format!("{} ms", leadsman::report::signed_ms(partner.off_grid));
        let title = group
            .select(&Selector::parse("title").expect("a selector"))
            .next()
            .expect("a title");
        assert!(words(&title).contains(&said), "{said}: {}", words(&title));
        assert_eq!(
            has(".rings"),
            usize::from(partner.length == Some(leadsman::judge::Length::Rings))
        );
    }
    // All that is drawn is in the tables as well.
    assert_eq!(select(&html, ".system-block tbody tr").len(), notes.len());
}

#[test]
fn a_finding_leads_to_its_notes_and_they_lead_back() {
    let html = is_sound(&Taken::played(LINE, HABITS).page());
    let findings = select(&html, "ol.findings > li");
    assert!(findings.len() >= 2, "{}", findings.len());
    for finding in &findings {
        let id = finding.attr("id").expect("an id");
        let number = id.trim_start_matches("finding-");
        let links: Vec<&str> = finding
            .select(&Selector::parse(".places a").expect("a selector"))
            .map(|link| link.attr("href").expect("a link"))
            .collect();
        assert!(!links.is_empty(), "{id}");
        for link in &links {
            let note = select(&html, &format!("{link}.of-{number}"));
            assert_eq!(note.len(), 1, "{link}");
        }
        let back = select(&html, &format!(".back a[href='#{id}']")).len();
        let rows = select(&html, &format!("td a[href='#{id}']")).len();
        assert!(
            back > 0 && rows == links.len(),
            "{id}: {back}, {rows} of {}",
            links.len()
        );
    }
}

#[test]
fn what_is_known_of_a_take_stands_at_its_head_and_more_sections_follow() {
    let head = Head {
        played: Some("25 November 2026, 13:01".into()),
        player: Some("the deckhand".into()),
        number: Some("take 12".into()),
        note: Some("new strings <flat>\nand tired".into()),
    };
    let more = Section {
        id: "progress",
        title: "Progress".into(),
        content: maud::html! { p { "As before." } },
    };
    let page = Taken::played(LINE, "steady").page_with(head, vec![more]);
    let html = is_sound(&page);
    let facts: String = select(&html, "dl.facts").iter().map(words).collect();
    for fact in [
        "25 November 2026",
        "the deckhand",
        "take 12 · take.mid",
        "new strings <flat> and tired",
    ] {
        assert!(facts.contains(fact), "{fact}: {facts}");
    }
    assert_eq!(
        select(&html, "main > section:last-child#progress h2").len(),
        1
    );
    assert_eq!(select(&html, "nav a[href='#progress']").len(), 1);
    assert!(page.contains("Nothing stands out"));
}

#[test]
fn a_take_without_notes_with_one_and_with_only_missed_ones_has_a_sound_page() {
    let silent = Taken::of(LINE, |_| Vec::new());
    let page = silent.page();
    let html = is_sound(&page);
    assert!(page.contains("Nothing was heard"));
    assert_eq!(select(&html, "figure").len(), 0);
    assert!(select(&html, "text.missed").len() > 50);

    let one =
        "title = \"a\"\nmeter = \"4/4\"\ntempo = 120\n[[section]]\nname = \"A\"\nnotes = \"A1/1\"";
    let html = is_sound(&Taken::played(one, "steady").page());
    assert!(select(&html, "figure").len() >= 3);
    is_sound(&Taken::of(one, |_| Vec::new()).page());

    let none =
        "title = \"a\"\nmeter = \"4/4\"\ntempo = 120\n[[section]]\nname = \"A\"\nnotes = \"r/1\"";
    is_sound(&Taken::of(none, |_| Vec::new()).page());
    is_sound(&Taken::played(LINE, "extra=0.3,mean-ms=-40,slide-steps=0.2").page());
}

/// Each note takes some 2 kB, most of it its drawing; the charts are the same for all.
#[test]
fn a_page_grows_with_its_notes_until_it_is_as_large_as_it_gets() {
    let size = |notes: usize| {
        let taken = Taken::played(&long_line(notes), "spread-ms=20,missed-muting,late-entries");
        assert_eq!(taken.expected.notes.len(), notes);
        let page = taken.page();
        let drawn = page.matches("class=\"frame\"").count();
        (page.len(), drawn)
    };
    let (two_thousand, drawn) = size(2000);
    assert_eq!(drawn, 2000);
    assert!(two_thousand < 6_000_000, "{two_thousand} bytes");
    let (four, drawn_of_four) = size(4400);
    let (six, drawn_of_six) = size(6000);
    assert_eq!((drawn_of_four, drawn_of_six), (4000, 4000));
    assert!(
        four < 12_000_000 && six < four + 1_000_000,
        "{four}, {six} bytes"
    );
}

#[test]
fn what_is_not_drawn_of_a_long_take_is_said_and_nothing_leads_there() {
    let page = Taken::played(&long_line(4400), "late-entries,missed-muting").page();
    assert!(page.contains("drawn up to its note 4000; 400 more"));
    assert!(page.contains("id=\"note-3999\"") && !page.contains("id=\"note-4000\""));
    let links = page.split("href=\"#note-").skip(1);
    let numbers = links.filter_map(|link| link.split('"').next()?.parse::<u32>().ok());
    assert!(numbers.clone().count() > 100 && numbers.max() < Some(4000));
}

/// Runs `leadsman report` and gives back the page.
fn reported(bench: &Bench, args: &[&str]) -> String {
    let all = [&["report"], args].concat();
    let ran = bench.run(&all);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    let file = ran
        .out
        .trim_end()
        .strip_prefix("The report is written to ")
        .expect("a name");
    fs::read_to_string(bench.path(file)).expect("the page")
}

#[test]
fn the_command_names_its_page_after_the_take_and_takes_the_line_from_it() {
    let bench = Bench::new(LINE);
    let demo = bench.run(&["demo", "line.toml", "--take", "monday.mid"]);
    assert_eq!(demo.code, Some(0), "{}", demo.err);
    let page = reported(&bench, &["monday.mid"]);
    assert!(bench.path("monday.report.html").is_file());
    let html = is_sound(&page);
    let facts: String = select(&html, "dl.facts").iter().map(words).collect();
    assert!(
        facts.contains("invented data") && facts.contains("monday.mid"),
        "{facts}"
    );
    let again = bench.run(&["report", "monday.mid"]);
    assert_eq!(again.code, Some(2));
    assert!(again.err.contains("--force"), "{}", again.err);
    reported(&bench, &["monday.mid", "--force", "--window", "12"]);
    let other = reported(&bench, &["monday.mid", "-o", "other.html", "--bars", "5"]);
    assert!(
        is_sound(&other)
            .select(&Selector::parse("g.played-note[id]").expect("a selector"))
            .count()
            == 3
    );
}

#[test]
fn a_take_of_ours_in_which_nobody_plays_or_nothing_fits_has_a_page_too() {
    let bench = Bench::new(LINE);
    for (habits, more) in [("dropped=1", vec![]), ("steady", vec!["--start", "60"])] {
        fs::create_dir_all(bench.path("takes")).expect("a folder");
        let _ = fs::remove_file(bench.path("takes/quiet.mid"));
        let demo = [
            "demo",
            "line.toml",
            "--habits",
            habits,
            "--take",
            "takes/quiet.mid",
        ];
        assert_eq!(bench.run(&demo).code, Some(0));
        let page = reported(
            &bench,
            &[&["takes/quiet.mid", "--force"], &more[..]].concat(),
        );
        is_sound(&page);
        assert!(page.contains("Nothing was heard"), "{habits}");
    }
    fs::rename(bench.path("line.toml"), bench.path("takes/line.toml")).expect("moved");
    reported(&bench, &["takes/quiet.mid", "--force"]);
    fs::remove_file(bench.path("takes/line.toml")).expect("gone");
    let ran = bench.run(&["report", "takes/quiet.mid", "--force"]);
    assert!(
        ran.code == Some(2) && ran.err.contains("line.toml is not there"),
        "{}",
        ran.err
    );
}

#[test]
fn a_take_from_elsewhere_needs_its_line_named() {
    let bench = Bench::new(LINE);
    // The first beats of the line at 120, swung; bar 1 at 2 s, all 10 ms late.
    let keys = [28, 31, 33, 35, 40, 38, 35, 31];
    let onsets =
        (0..8).map(|eighth| 2010.0 + f64::from(eighth / 2) * 500.0 + f64::from(eighth % 2) * 333.3);
    let played: Vec<takes::Note> = onsets
        .zip(keys)
        .map(|(at, key)| note(at, key, 150.0))
        .collect();
    bench.write("take.mid", &smf(&played));
    let ran = bench.run(&["report", "take.mid"]);
    assert_eq!(ran.code, Some(2));
    assert!(ran.err.contains("--line"), "{}", ran.err);
    let page = reported(&bench, &["take.mid", "--line", "line.toml", "--start", "2"]);
    assert_eq!(select(&is_sound(&page), "text.offset").len(), 8);
}

#[test]
fn a_take_that_was_stopped_is_shown_as_far_as_it_goes() {
    let bench = Bench::new(LINE);
    let demo = bench.run(&["demo", "line.toml", "--take", "whole.mid"]);
    assert_eq!(demo.code, Some(0), "{}", demo.err);
    // Without its end the take goes as far as its last event.
    let whole = fs::read(bench.path("whole.mid")).expect("the take");
    bench.write("broken.mid", &whole[..whole.len() * 4 / 5]);
    let page = reported(&bench, &["broken.mid", "--line", "line.toml"]);
    let html = is_sound(&page);
    let drawn = select(&html, "g.played-note[id]").len();
    let all = Taken::played(LINE, "steady").expected.notes.len();
    assert!(drawn > 0 && drawn < all, "{drawn} of {all}");
}

fn written(folder: &Path, name: &str, page: &str) -> PathBuf {
    let path = folder.join(name);
    fs::write(&path, page).expect("a page");
    path
}

const VIEWS: [View; 4] = [
    View {
        width: 1400,
        scheme: "light",
    },
    View {
        width: 1400,
        scheme: "dark",
    },
    View {
        width: 360,
        scheme: "dark",
    },
    View {
        width: 700,
        scheme: "light",
    },
];

/// Where there is a Chromium; elsewhere there is nothing to ask.
#[test]
fn a_browser_finds_nothing_wrong() {
    let Some(mut browser) = Browser::start() else {
        eprintln!("no chromium here: nothing was asked");
        return;
    };
    let folder = tempfile::tempdir().expect("a folder");
    let pages = [
        ("much.html", Taken::played(LINE, HABITS).page(), &VIEWS[..]),
        (
            "silent.html",
            Taken::of(LINE, |_| Vec::new()).page(),
            &VIEWS[1..3],
        ),
    ];
    for (name, page, views) in &pages {
        let path = written(folder.path(), name, page);
        for view in *views {
            for (question, wrong) in faults(&mut browser, &path, *view) {
                assert!(wrong.is_empty(), "{name} {view:?} {question}: {wrong:?}");
            }
        }
    }
}

#[test]
fn a_note_lights_up_where_a_link_leads_to_it_and_all_of_a_finding_with_it() {
    let Some(mut browser) = Browser::start() else {
        eprintln!("no chromium here: nothing was asked");
        return;
    };
    let folder = tempfile::tempdir().expect("a folder");
    let path = written(
        folder.path(),
        "much.html",
        &Taken::played(LINE, HABITS).page(),
    );
    browser.open(&path, VIEWS[0]);
    let lit = "[...document.querySelectorAll('.frame')].filter((frame) => getComputedStyle(frame).stroke !== 'none').length";
    assert_eq!(browser.evaluate(lit), 0);
    browser.evaluate("location.hash = document.querySelector('.places a').hash");
    assert_eq!(browser.evaluate(lit), 1);
    let seen = "(() => { const box = document.querySelector(':target').getBoundingClientRect(); return box.top >= 0 && box.bottom <= innerHeight; })()";
    assert_eq!(browser.evaluate(seen), true);
    browser.evaluate("location.hash = '#finding-1'");
    let of_finding = browser.evaluate("document.querySelectorAll('.of-1').length");
    assert!(of_finding.as_u64() > Some(1), "{of_finding}");
    assert_eq!(browser.evaluate(lit), of_finding);
}

/// The questions are no good if they have one answer.
#[test]
fn a_browser_finds_each_fault_that_is_put_into_a_page() {
    let Some(mut browser) = Browser::start() else {
        eprintln!("no chromium here: nothing was asked");
        return;
    };
    let folder = tempfile::tempdir().expect("a folder");
    let page = Taken::played(&long_line(40), HABITS).page();
    let spoilt = [
        (
            "overflow",
            "</main>",
            "<div style=\"width:1500px\">wide</div></main>",
        ),
        ("contrast", "</style>", "figcaption{color:#999}</style>"),
        (
            "contrast",
            "</style>",
            "svg.chart text{fill:var(--edge)}:root{--edge:#888}</style>",
        ),
        (
            "selectable",
            "</style>",
            "svg text{user-select:none}</style>",
        ),
        ("focus", "</style>", "a{outline:none!important}</style>"),
        (
            "complaints",
            "</main>",
            "</main><script>console.error('no')</script>",
        ),
        (
            "complaints",
            "</main>",
            "</main><img alt=\"\" src=\"http://127.0.0.1:9/a.png\">",
        ),
    ];
    for (question, place, fault) in spoilt {
        let path = written(
            folder.path(),
            "spoilt.html",
            &page.replacen(place, fault, 1),
        );
        let found = faults(&mut browser, &path, VIEWS[0]);
        let of = |name: &str| {
            found
                .iter()
                .find(|one| one.0 == name)
                .map(|one| one.1.len())
        };
        assert!(of(question) > Some(0), "{question}: {fault}");
    }
}
