//! How true the recorded intervals between keys are.
//!
//! Strikes keys through a pseudo-terminal at known moments, with exponential
//! gaps, into the real program (`etude terminal --watch --log`), and compares
//! each recorded interval with the true one. Both clocks are the system's
//! monotonic clock; the true moment is read right before each write.
//!
//! ```text
//! cargo bench --bench intervals
//! cargo bench --bench intervals -- --keys 2000 --mean-ms 120 --seed 7 --load 3
//! ```
//!
//! `--load N` keeps N threads busy meanwhile. Intervals of keys that were read
//! together have no recorded interval; they are counted apart.
//!
//! The same keys then go to a bare reader: a thread that waits in `read` and
//! looks at the clock, and nothing else. Its errors are what the machine takes
//! to wake a reader; what the program adds is the difference.

#[cfg(not(unix))]
fn main() {
    eprintln!("there are no pseudo-terminals here");
}

#[cfg(unix)]
fn main() {
    unix::main();
}

#[cfg(unix)]
mod unix {
    use portable_pty::{CommandBuilder, PtySize, native_pty_system};
    use rand::{RngExt, SeedableRng};
    use rand_chacha::ChaCha8Rng;
    use std::io::{Read, Write};
    use std::sync::atomic::{AtomicBool, Ordering};
    use std::sync::{Arc, Mutex, mpsc};
    use std::time::{Duration, Instant};

    struct Options {
        keys: usize,
        mean_ms: f64,
        seed: u64,
        load: usize,
    }

    fn options() -> Options {
        let args: Vec<String> = std::env::args().skip(1).collect();
        let after = |name: &str| args.iter().position(|a| a == name).map(|i| args.get(i + 1));
        let number = |name: &str, default: u64| match after(name) {
            None => default,
            Some(value) => value
                .and_then(|v| v.parse().ok())
                .unwrap_or_else(|| panic!("{name} needs a number")),
        };
        // Without --bench it is run as a test: only to see that it works.
        let keys = if args.iter().any(|a| a == "--bench") { 600 } else { 30 };
        Options {
            keys: number("--keys", keys) as usize,
            mean_ms: number("--mean-ms", 30) as f64,
            seed: number("--seed", 1),
            load: number("--load", 0) as usize,
        }
    }

    #[expect(clippy::disallowed_methods, reason = "the bench measures time")]
    fn now() -> Instant {
        Instant::now()
    }

    pub fn main() {
        let options = options();
        let folder = tempfile::tempdir().expect("a folder for the log");
        let log = folder.path().join("keys.jsonl");
        let size = PtySize { rows: 24, cols: 80, pixel_width: 0, pixel_height: 0 };
        let pair = native_pty_system().openpty(size).expect("a pseudo-terminal");
        let mut command = CommandBuilder::new(env!("CARGO_BIN_EXE_etude"));
        command.args(["terminal", "--watch", "--log"]);
        command.arg(&log);
        command.env("TERM", "xterm-256color");
        command.env("LANG", "C.UTF-8");
        let mut child = pair.slave.spawn_command(command).expect("the program starts");
        drop(pair.slave);
        let writer = Arc::new(Mutex::new(pair.master.take_writer().expect("a way in")));
        let mut reader = pair.master.try_clone_reader().expect("a way out");
        let (ready_sender, ready) = mpsc::channel();
        let answer_to = Arc::clone(&writer);
        std::thread::spawn(move || {
            let (mut seen, mut bytes, mut answered) = (Vec::new(), vec![0; 65536], false);
            while let Ok(read @ 1..) = reader.read(&mut bytes) {
                if answered {
                    continue;
                }
                seen.extend_from_slice(&bytes[..read]);
                if seen.windows(3).any(|w| w == b"\x1b[c") {
                    answered = true;
                    let mut to = answer_to.lock().expect("the way in");
                    to.write_all(b"\x1b[?31u\x1b[?62c").expect("answers are taken");
                    ready_sender.send(()).expect("the bench waits");
                }
            }
        });
        ready.recv_timeout(Duration::from_secs(10)).expect("the program asks its questions");

        let stop = Arc::new(AtomicBool::new(false));
        let busy: Vec<_> = (0..options.load)
            .map(|_| {
                let stop = Arc::clone(&stop);
                std::thread::spawn(move || {
                    while !stop.load(Ordering::Relaxed) {
                        std::hint::spin_loop();
                    }
                })
            })
            .collect();
        let struck = strike(&options, &writer);
        let bare = bare(&options);
        stop.store(true, Ordering::Relaxed);
        for thread in busy {
            thread.join().expect("a busy thread ends");
        }
        let escapes = b"\x1b[27u\x1b[27u\x1b[27u";
        writer.lock().expect("the way in").write_all(escapes).expect("Escape is taken");
        child.wait().expect("the program ends");
        println!(
            "{} keys, mean gap {} ms, seed {}, {} busy threads",
            options.keys, options.mean_ms, options.seed, options.load
        );
        println!("error of recorded against true intervals, ms:");
        report("etude", &struck, &recorded(&std::fs::read_to_string(&log).expect("a log")));
        report("bare reader", &bare.0, &bare.1);
    }

    /// When keys were struck into a bare reader, and when it saw them, µs.
    fn bare(options: &Options) -> (Vec<Instant>, Vec<(u64, bool)>) {
        let size = PtySize { rows: 24, cols: 80, pixel_width: 0, pixel_height: 0 };
        let pair = native_pty_system().openpty(size).expect("a pseudo-terminal");
        let path = pair.master.tty_name().expect("its name");
        let mut tty =
            std::fs::OpenOptions::new().read(true).write(true).open(path).expect("it opens");
        let mut raw = rustix::termios::tcgetattr(&tty).expect("its settings");
        raw.make_raw();
        rustix::termios::tcsetattr(&tty, rustix::termios::OptionalActions::Now, &raw)
            .expect("raw input");
        let start = now();
        let keys = options.keys;
        let reader = std::thread::spawn(move || {
            let (mut seen, mut bytes) = (Vec::with_capacity(keys), [0; 256]);
            while seen.len() < keys {
                let read = tty.read(&mut bytes).expect("keys come");
                let at = now().duration_since(start).as_micros() as u64;
                // Keys end with 'u'; what came at once is read together.
                for n in 0..bytes[..read].iter().filter(|byte| **byte == b'u').count() {
                    seen.push((at, n > 0));
                }
            }
            seen
        });
        let writer = Mutex::new(pair.master.take_writer().expect("a way in"));
        let struck = strike_codes(options, &writer, b'A');
        (struck, reader.join().expect("the reader ends"))
    }

    /// Strikes the keys and returns when.
    fn strike(options: &Options, writer: &Mutex<Box<dyn Write + Send>>) -> Vec<Instant> {
        strike_codes(options, writer, b'a')
    }

    /// The same with codes from `first` on.
    fn strike_codes(
        options: &Options,
        writer: &Mutex<Box<dyn Write + Send>>,
        first: u8,
    ) -> Vec<Instant> {
        let mut rng = ChaCha8Rng::seed_from_u64(options.seed);
        // The terminal's greeting and the first frame are over by then.
        let mut due = now() + Duration::from_millis(500);
        let mut struck = Vec::with_capacity(options.keys);
        for n in 0..options.keys {
            std::thread::sleep(due.saturating_duration_since(now()));
            let code = usize::from(first) + n % 26;
            let key = format!("\x1b[{code};1;{code}u");
            let mut to = writer.lock().expect("the way in");
            struck.push(now());
            to.write_all(key.as_bytes()).expect("keys are taken");
            drop(to);
            // An exponential gap by inversion; at least 2 ms, as fingers need.
            let uniform = f64::from(rng.random::<u32>()) / (f64::from(u32::MAX) + 1.0);
            let gap = (-options.mean_ms * (1.0 - uniform).ln()).max(2.0);
            due += Duration::from_secs_f64(gap / 1000.0);
        }
        struck
    }

    /// What the program recorded: µs, and whether it was read together.
    fn recorded(log: &str) -> Vec<(u64, bool)> {
        log.lines()
            .map(|line| serde_json::from_str::<serde_json::Value>(line).expect("JSON lines"))
            .filter(|event| event["key"] != "Escape")
            .map(|event| (event["at_us"].as_u64().expect("a time"), event["batched"] == true))
            .collect()
    }

    fn report(who: &str, struck: &[Instant], recorded: &[(u64, bool)]) {
        assert_eq!(recorded.len(), struck.len(), "every key is recorded once");
        let mut together = 0;
        let mut errors: Vec<f64> = Vec::new();
        for (times, events) in struck.windows(2).zip(recorded.windows(2)) {
            if events[1].1 {
                together += 1;
                continue;
            }
            let truly = times[1].duration_since(times[0]).as_secs_f64() * 1000.0;
            errors.push(((events[1].0 - events[0].0) as f64 / 1000.0 - truly).abs());
        }
        errors.sort_by(f64::total_cmp);
        // The nearest rank: the smallest error that so many don't exceed.
        let rank = |share: f64| {
            let place = (share * errors.len() as f64).ceil() as usize;
            errors[place.clamp(1, errors.len()) - 1]
        };
        println!(
            "{who:<12} n {}   median {:.3}   p95 {:.3}   p99 {:.3}   max {:.3}   read together \
             {together}",
            errors.len(),
            rank(0.5),
            rank(0.95),
            rank(0.99),
            rank(1.0)
        );
    }
}
