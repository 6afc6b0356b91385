//! What is true of a person.

/// The truth about one person. All times are medians, all costs are
/// differences of natural logarithms.
#[derive(Debug, Clone, PartialEq)]
pub struct Person {
    /// Median of an easy key of daily use after another hand's key, ms. A
    /// typist of 50 words a minute has intervals of 240 ms in the mean
    /// (168,960 typists, Dhakal et al. CHI 2018: 238.66 ms), of which motor
    /// classes and slow keys are part.
    pub everyday_ms: f64,
    /// Median of an easy key that was never struck before, ms: the operator K
    /// for random letters (Card, Moran & Newell 1983: 0.50 s).
    pub unmet_ms: f64,
    /// How steeply effort counts: ms grow with effort to this power. Our own
    /// estimate, no source.
    pub effort_power: f64,
    /// Spread (standard deviation) of the skills of keys about what effort
    /// says. Our own estimate, no source.
    pub skill_spread: f64,
    /// Exponent of the power law of practice, mean over keys: .11 (51 people
    /// typing one password 400 times, Killourhy & Maxion 2009: .110).
    pub learning: f64,
    /// Its spread over keys, standard deviation: the prior of the model is
    /// .06 over people and keys together.
    pub learning_spread: f64,
    /// The exponent never lies outside these. Practice that makes slower is
    /// left out: our own choice.
    pub learning_limits: (f64, f64),
    /// How many letters the person has typed in their life, as far as still
    /// felt. Our own estimate, no source.
    pub letters_typed: f64,
    /// Going into a layer for the first times, and the exponent by which it
    /// gets easier. After a thousand times .9 becomes .49 and after a hundred
    /// .62: what going into Shift costs skilled people (.57 to .60) lies
    /// between. The two figures themselves are our own estimate.
    pub entering: (f64, f64),
    /// The same for going back to the base layer; .55 becomes .41 after a
    /// hundred times (leaving Shift: .37 to .38).
    pub leaving: (f64, f64),
    /// Spread of a switch's cost about that. Our own estimate.
    pub switch_spread: f64,
    /// Going into Shift and coming out of it (Killourhy & Maxion 2009: log
    /// +.57 to +.60 and +.37 to +.38).
    pub shift: (f64, f64),
    /// Same hand, one key twice, same finger, against alternate hands: logs
    /// of (104 + 13, 104 + 41, 104 + 69) / 104 ms (a large public corpus at
    /// 60 words a minute and more).
    pub motor: (f64, f64, f64),
    /// Spread of a single time about its median, standard deviation of logs.
    /// Our own estimate, no source.
    pub noise: f64,
    /// How often a key goes wrong the first time it is struck, 0 to 1, and
    /// the exponent by which that falls. At 10,000 times .12 becomes .012
    /// (uncorrected and corrected errors of skilled typists are some per
    /// cent); the exponent is our own estimate.
    pub slips: (f64, f64),
    /// The two keys after an error are slower by this. From memory: a fifth to
    /// a third in studies of skilled typing.
    pub after_error: f64,
    /// The first time in a day that a key comes up is slower by this:
    /// log 1.09 (nine per cent, Killourhy & Maxion 2009).
    pub first_of_day: f64,
    /// Share of the repetitions of a key or switch that a day without
    /// practice takes, 0 to 1; keys of daily use lose nothing. Our own estimate.
    pub forgetting: f64,
    /// How often the person stops to think or drink, 0 to 1 a key. Our own
    /// estimate.
    pub pauses: f64,
    /// How long a line is looked at before its first key, median, ms. Our own
    /// estimate; M of the keystroke-level model is 1350 ms.
    pub reading_ms: f64,
    /// How long a key is down, median, ms; longer than the next interval
    /// means rollover. From memory: about 100 ms.
    pub down_ms: f64,
    /// Of a key's own time, without the switch, the share that is left once the
    /// access key of its layer is down, 0 to 1. Our own estimate.
    pub strike_share: f64,
    /// True where the terminal tells of releases.
    pub releases: bool,
}

impl Default for Person {
    fn default() -> Self {
        Self {
            everyday_ms: 175.0,
            unmet_ms: 500.0,
            effort_power: 0.4,
            skill_spread: 0.2,
            learning: 0.11,
            learning_spread: 0.04,
            learning_limits: (0.01, 0.30),
            letters_typed: 200_000.0,
            entering: (0.90, 0.06),
            leaving: (0.55, 0.03),
            switch_spread: 0.1,
            shift: (0.585, 0.375),
            motor: (0.118, 0.332, 0.509),
            noise: 0.25,
            slips: (0.12, 0.25),
            after_error: 0.25,
            first_of_day: 0.086,
            forgetting: 0.03,
            pauses: 0.003,
            reading_ms: 700.0,
            down_ms: 95.0,
            strike_share: 0.5,
            releases: true,
        }
    }
}
