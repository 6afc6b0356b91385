//! What a person feels of the whole program: how soon the first frame is
//! there, how soon a key is answered, how much memory and disk it takes.
//!
//! Runs the real binary in a pseudo-terminal and plays the terminal. The time
//! from start to frame is set against that of `true`, spawned in the same way,
//! so that what the machine takes to start any program drops out. Each start
//! takes its turn among the others: a busy moment of the machine falls on all
//! of them alike.
//!
//! `cargo bench --bench screen`; more or fewer starts with
//! `cargo bench --bench screen -- --starts 200`.

fn main() {
    #[cfg(unix)]
    unix::main();
    #[cfg(not(unix))]
    println!("This bench plays a terminal to the program and needs a Unix pseudo-terminal.");
}

#[cfg(unix)]
mod unix {
    use portable_pty::{Child, CommandBuilder, MasterPty, PtySize, native_pty_system};
    use rustix::process::{Pid, Signal, kill_process};
    use serde_json::{Value, json};
    use std::io::{BufRead, BufReader, Read, Write};
    use std::num::NonZeroU16;
    use std::path::Path;
    use std::process::{Command, Stdio};
    use std::sync::mpsc::{self, Receiver, RecvTimeoutError};
    use std::sync::{Arc, Mutex};
    use std::time::{Duration, Instant};
    use tempfile::TempDir;

    const PROGRAM: &str = env!("CARGO_BIN_EXE_etude");
    const SIZE: (u16, u16) = (24, 80);
    const END_OF_FRAME: &[u8] = b"\x1b[?2026l";
    const LAST_QUESTION: &[u8] = b"\x1b[c";
    /// Nothing here takes so long unless it is broken.
    const DEADLINE: Duration = Duration::from_secs(20);
    /// From one key to the next: the frames that a release may cause, and the
    /// work after a frame, are over by then.
    const GAP: Duration = Duration::from_millis(12);

    #[expect(clippy::disallowed_methods, reason = "the bench measures time")]
    fn now() -> Instant {
        Instant::now()
    }

    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    enum Answers {
        Enhanced,
        Plain,
    }

    impl Answers {
        fn bytes(self) -> &'static [u8] {
            match self {
                Self::Enhanced => b"\x1b[?31u\x1b]11;rgb:1010/1010/1010\x1b\\\x1b[?62c",
                Self::Plain => b"\x1b[?62c",
            }
        }
    }

    /// A frame arrived whole, and what the screen then showed.
    struct Frame {
        at: Instant,
        text: String,
    }

    struct Running {
        child: Box<dyn Child + Send + Sync>,
        _master: Box<dyn MasterPty + Send>,
        writer: Arc<Mutex<Box<dyn Write + Send>>>,
        frames: Receiver<Frame>,
        started: Instant,
    }

    fn command(program: &str, home: &Path, args: &[&str]) -> CommandBuilder {
        let mut command = CommandBuilder::new(program);
        command.env_clear();
        command.cwd(home);
        command.args(args);
        for (name, value) in
            [("PATH", "/usr/bin:/bin"), ("LANG", "C.UTF-8"), ("TERM", "xterm-256color")]
        {
            command.env(name, value);
        }
        command.env("HOME", home);
        command
    }

    fn pty() -> portable_pty::PtyPair {
        let (rows, cols) = SIZE;
        let size = PtySize { rows, cols, pixel_width: 0, pixel_height: 0 };
        native_pty_system().openpty(size).expect("a pseudo-terminal")
    }

    /// Milliseconds from spawning `true` until its end is known.
    fn time_of_true(home: &Path) -> f64 {
        let pair = pty();
        let started = now();
        let mut child = pair.slave.spawn_command(command("true", home, &[])).expect("`true` runs");
        child.wait().expect("`true` ends");
        millis(started, now())
    }

    fn millis(from: Instant, to: Instant) -> f64 {
        to.duration_since(from).as_secs_f64() * 1000.0
    }

    impl Running {
        fn start(home: &Path, args: &[&str], answers: Answers) -> Self {
            let pair = pty();
            let mut from = pair.master.try_clone_reader().expect("a way out");
            let writer = Arc::new(Mutex::new(pair.master.take_writer().expect("a way in")));
            let to = Arc::clone(&writer);
            let (sender, frames) = mpsc::channel();
            std::thread::spawn(move || {
                let [rows, columns] = [SIZE.0, SIZE.1].map(|n| NonZeroU16::new(n).expect("a size"));
                let mut screen = vt100::Parser::new(rows, columns, 0);
                // What is not yet looked through; sequences may be cut anywhere.
                let mut fresh = Vec::new();
                let mut bytes = vec![0; 65536];
                // How much of it was searched for questions.
                let mut searched = 0;
                while let Ok(read @ 1..) = from.read(&mut bytes) {
                    let at = now();
                    fresh.extend_from_slice(&bytes[..read]);
                    // It asks at the start and once more when it leaves.
                    while let Some(place) = find(&fresh[searched..], LAST_QUESTION) {
                        searched += place + LAST_QUESTION.len();
                        let mut to = to.lock().expect("the way in");
                        if to.write_all(answers.bytes()).is_err() {
                            return;
                        }
                    }
                    while let Some(place) = find(&fresh, END_OF_FRAME) {
                        let end = place + END_OF_FRAME.len();
                        let frame: Vec<u8> = fresh.drain(..end).collect();
                        searched = searched.saturating_sub(end);
                        screen.process(&frame);
                        let text = screen.screen().contents();
                        if sender.send(Frame { at, text }).is_err() {
                            return;
                        }
                    }
                }
            });
            let started = now();
            let child = pair.slave.spawn_command(command(PROGRAM, home, args)).expect("it starts");
            drop(pair.slave);
            Self { child, _master: pair.master, writer, frames, started }
        }

        fn frame(&self) -> Frame {
            self.frames.recv_timeout(DEADLINE).expect("a frame")
        }

        /// The first frame that shows `text`.
        fn frame_with(&self, text: &str) -> Frame {
            loop {
                let frame = self.frame();
                if frame.text.contains(text) {
                    return frame;
                }
            }
        }

        fn send(&self, bytes: &[u8]) {
            let mut writer = self.writer.lock().expect("the way in");
            writer.write_all(bytes).expect("keys are taken");
        }

        /// Takes the frames that come before the next key is due; the text of
        /// the last of them.
        fn rest(&self) -> Option<String> {
            let until = now() + GAP;
            let mut last = None;
            loop {
                match self.frames.recv_timeout(until.saturating_duration_since(now())) {
                    Ok(frame) => last = Some(frame.text),
                    Err(RecvTimeoutError::Timeout) => return last,
                    Err(RecvTimeoutError::Disconnected) => panic!("the program went away"),
                }
            }
        }

        fn end(mut self) {
            let pid = self.child.process_id().and_then(|pid| Pid::from_raw(pid.try_into().ok()?));
            kill_process(pid.expect("a process"), Signal::TERM).expect("it can be told to end");
            self.child.wait().expect("it ends");
        }

        /// The most memory it ever held, kB; none where the system keeps no
        /// such figure under /proc.
        fn peak_kb(&self) -> Option<u64> {
            let pid = self.child.process_id()?;
            let status = std::fs::read_to_string(format!("/proc/{pid}/status")).ok()?;
            let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"))?;
            line.trim().strip_suffix("kB")?.trim().parse().ok()
        }
    }

    fn find(bytes: &[u8], what: &[u8]) -> Option<usize> {
        bytes.windows(what.len()).position(|window| window == what)
    }

    /// Figures of one kind, milliseconds.
    struct Figures {
        name: &'static str,
        ms: Vec<f64>,
    }

    impl Figures {
        fn new(name: &'static str) -> Self {
            Self { name, ms: Vec::new() }
        }

        /// The nearest rank: the smallest value that such a share doesn't
        /// exceed.
        fn rank(&self, share: f64) -> f64 {
            let mut sorted = self.ms.clone();
            sorted.sort_by(f64::total_cmp);
            let place = (share * sorted.len() as f64).ceil() as usize;
            sorted[place.clamp(1, sorted.len()) - 1]
        }

        fn median(&self) -> f64 {
            self.rank(0.5)
        }
    }

    /// The first drill of symbols with seed 7, typed without a fault through
    /// a script; leaves it in the history of `home`. Its items in order.
    fn drill_by_script(home: &Path) -> Vec<String> {
        let mut child = Command::new(PROGRAM)
            .args(["practice", "symbols", "--seed", "7", "--script"])
            .env_clear()
            .env("HOME", home)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .expect("it starts");
        let mut stdin = child.stdin.take().expect("a way in");
        let lines = BufReader::new(child.stdout.take().expect("a way out")).lines();
        let (mut items, mut at_us) = (Vec::new(), 0);
        for line in lines {
            let line: Value = serde_json::from_str(&line.expect("a line")).expect("JSON");
            match line["type"].as_str() {
                Some("due") => {
                    at_us += 200_000;
                    let event = json!({ "at_us": at_us, "key": line["output"] });
                    writeln!(stdin, "{event}").expect("the key is taken");
                    items.push(line["output"].as_str().expect("an output").to_owned());
                }
                Some("result") => break,
                Some("error") => panic!("{line}"),
                _ => {}
            }
        }
        drop(stdin);
        child.wait().expect("it ends");
        items
    }

    /// What a terminal sends at the press and at the release of the key.
    fn press_and_release(item: &str, answers: Answers) -> (Vec<u8>, Vec<u8>) {
        let item = if item == "Space" { " " } else { item };
        let code = match item {
            "Enter" => 13,
            "Tab" => 9,
            "Backspace" => 127,
            text => u32::from(text.chars().next().expect("no item is empty")),
        };
        let named = item.chars().count() > 1;
        match answers {
            Answers::Plain if named => (vec![code as u8], Vec::new()),
            Answers::Plain => (item.as_bytes().to_vec(), Vec::new()),
            Answers::Enhanced => {
                let text = if named { String::new() } else { format!(";{code}") };
                let press = format!("\x1b[{code};1:1{text}u").into_bytes();
                (press, format!("\x1b[{code};1:3u").into_bytes())
            }
        }
    }

    fn number(name: &str, default: usize) -> usize {
        let args: Vec<String> = std::env::args().skip(1).collect();
        match args.iter().position(|a| a == name) {
            None => default,
            Some(place) => args
                .get(place + 1)
                .and_then(|value| value.parse().ok())
                .unwrap_or_else(|| panic!("{name} needs a number")),
        }
    }

    pub fn main() {
        // Without --bench it is run as a test: only to see that it works.
        let measured = std::env::args().any(|a| a == "--bench");
        let starts = number("--starts", if measured { 60 } else { 3 }).max(1);
        let kept = TempDir::new().expect("a folder");
        let items = drill_by_script(kept.path());
        measure_starts(starts, kept.path());
        measure_keys(&items, if measured { 3 } else { 1 });
        let bytes = std::fs::metadata(PROGRAM).expect("the binary").len();
        println!("\nBinary, as this profile builds it: {:.2} MB", bytes as f64 / 1e6);
    }

    fn measure_starts(starts: usize, kept: &Path) {
        let mut bare = Figures::new("`true`, to its end");
        let mut all = [
            ("start screen, no history, enhanced", false, Answers::Enhanced),
            ("start screen, no history, plain", false, Answers::Plain),
            ("start screen, history, enhanced", true, Answers::Enhanced),
            ("start screen, history, plain", true, Answers::Plain),
        ]
        .map(|(name, old, answers)| (Figures::new(name), old, answers));
        let mut practice = Figures::new("practice, history, first frame");
        let mut prompt = Figures::new("practice, history, first drill shown");
        for _ in 0..starts {
            bare.ms.push(time_of_true(kept));
            for (figures, old, answers) in &mut all {
                let fresh = TempDir::new().expect("a folder");
                let home = if *old { kept } else { fresh.path() };
                let running = Running::start(home, &[], *answers);
                figures.ms.push(millis(running.started, running.frame().at));
                running.end();
            }
            let args = ["practice", "symbols", "--seed", "7"];
            let running = Running::start(kept, &args, Answers::Enhanced);
            let first = running.frame();
            practice.ms.push(millis(running.started, first.at));
            let shown =
                if first.text.contains("strike") { first } else { running.frame_with("strike") };
            prompt.ms.push(millis(running.started, shown.at));
            running.end();
        }
        println!("Start to first complete frame, ms ({starts} starts each, in turn)\n");
        println!("{:<40} {:>8} {:>8} {:>16}", "", "median", "p95", "over `true`");
        println!("{:<40} {:>8.2} {:>8.2}", bare.name, bare.median(), bare.rank(0.95));
        for figures in all.iter().map(|(f, ..)| f).chain([&practice, &prompt]) {
            println!(
                "{:<40} {:>8.2} {:>8.2} {:>16.2}",
                figures.name,
                figures.median(),
                figures.rank(0.95),
                figures.median() - bare.median()
            );
        }
    }

    fn measure_keys(items: &[String], rounds: usize) {
        println!("\nKey to flushed frame in a drill of {} keys, ms\n", items.len());
        println!("{:<40} {:>8} {:>8} {:>8} {:>5}", "", "median", "p95", "max", "n");
        let mut peak = None;
        for (name, answers) in
            [("enhanced, with releases", Answers::Enhanced), ("plain", Answers::Plain)]
        {
            let mut keys = Figures::new(name);
            let mut last = Figures::new("  the last key: result, history written");
            for _ in 0..rounds {
                let home = TempDir::new().expect("a folder");
                let args = ["practice", "symbols", "--seed", "7"];
                let running = Running::start(home.path(), &args, answers);
                // The first start shows the cautions.
                running.frame_with("numbness");
                running.send(b"\r");
                running.frame_with("strike");
                running.rest();
                for (n, item) in items.iter().enumerate() {
                    let (press, release) = press_and_release(item, answers);
                    let struck = now();
                    running.send(&press);
                    let mut frame = running.frame();
                    let to = if n + 1 == items.len() { &mut last } else { &mut keys };
                    to.ms.push(millis(struck, frame.at));
                    running.send(&release);
                    if let Some(text) = running.rest() {
                        frame.text = text;
                    }
                    assert_eq!(
                        frame.text.contains("drill 1 done"),
                        n + 1 == items.len(),
                        "after '{item}', key {n}:\n{}",
                        frame.text
                    );
                }
                peak = peak.max(running.peak_kb());
                running.end();
            }
            for figures in [&keys, &last] {
                println!(
                    "{:<40} {:>8.3} {:>8.3} {:>8.3} {:>5}",
                    figures.name,
                    figures.median(),
                    figures.rank(0.95),
                    figures.rank(1.0),
                    figures.ms.len()
                );
            }
        }
        match peak {
            Some(kb) => println!("\nPeak memory after a drill: {:.1} MB", kb as f64 * 1.024 / 1e3),
            None => println!("\nPeak memory: this system doesn't tell it under /proc"),
        }
    }
}
