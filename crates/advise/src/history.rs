//! The voltage as it went, as straight pieces, and what absorption makes of it.

/// Younger than this absorption is not asked. Common practice, no source; the planner's too.
const YOUNGEST_S: f64 = 0.1;
/// A voltage stands while it stays within this part of the highest. Common practice, no source:
/// less than the part by which a level counts as left.
const STANDS: f64 = 0.005;
/// It stands from this time on, longer where the meter strays much for the pace of the rise.
const STANDS_FROM_S: f64 = 1.5;
const LONGEST_DOUBT_S: f64 = 20.0;
/// What moves slower than this part of the planned pace is taken to stand.
const STILL: f64 = 0.3;
/// Readings of a standing voltage stray by this part before it is known. Common practice, no
/// source.
const STRAYS: f64 = 5e-4;
/// A level that was said is read within this part.
const SAID_WITHIN: f64 = 0.05;
/// A piece of a rise is no longer than this part of the highest voltage so far.
const PIECE: f64 = 0.05;
/// Pieces that are kept; older ones are put together.
const MOST: usize = 32;

/// A change of voltage at a steady rate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Piece {
    pub(crate) from_s: f64,
    pub(crate) to_s: f64,
    pub(crate) volts: f64,
}

impl Piece {
    /// ∫ over the piece of its rate times the age to the −n.
    fn absorbed(&self, t_s: f64, exponent: f64) -> f64 {
        let to_s = self.to_s.min(t_s);
        let whole = self.to_s - self.from_s;
        let volts =
            if whole > 0.0 { self.volts * (to_s - self.from_s) / whole } else { self.volts };
        let (old, young) = (t_s - self.from_s, (t_s - to_s).max(YOUNGEST_S));
        if old <= YOUNGEST_S {
            return 0.0;
        }
        let long = old - young;
        // Far off, a rise is a step in its middle; Simpson's rule in between, and exact near.
        if long <= 0.2 * young {
            return volts * (0.5 * (old + young)).powf(-exponent);
        }
        let rest = 1.0 - exponent;
        let sum = if rest.abs() < 1e-6 {
            (old / young).ln()
        } else {
            (old.powf(rest) - young.powf(rest)) / rest
        };
        volts / long * sum
    }
}

/// The voltage as it went since energising.
#[derive(Clone, Debug, Default)]
pub(crate) struct History {
    pieces: Vec<Piece>,
    /// When and where the last piece ended.
    end: (f64, f64),
    last: Option<(f64, f64)>,
    /// Since when it stands, and where.
    rest: Option<(f64, f64)>,
    /// Since when it may stand.
    maybe: (f64, f64),
    top: f64,
    /// When it last left where it stood.
    left_s: f64,
    /// How fast it rises where it rises.
    pace: f64,
    /// The level was said and not read yet.
    unread: bool,
    /// The last three readings while it stands; mean square of their second differences over the
    /// voltage, and how many.
    steady: Vec<f64>,
    strays: (f64, f64),
}

impl History {
    /// For a voltage that is planned to rise no slower than this, in volts a second.
    pub(crate) fn new(pace: f64) -> Self {
        Self { pace, ..Self::default() }
    }

    /// Takes a voltage in; `grain` is what its meter cannot tell apart.
    pub(crate) fn take(&mut self, t_s: f64, volts: f64, grain: f64) {
        let (last_s, last_v) = self.last.unwrap_or((0.0, 0.0));
        self.last = Some((t_s, volts));
        self.top = self.top.max(volts);
        let noise = self.noise(grain);
        if let Some((since_s, stands)) = self.rest {
            if self.unread && (volts / stands - 1.0).abs() < SAID_WITHIN {
                self.read_as(since_s, volts);
            }
            let stands = self.rest.map_or(stands, |rest| rest.1);
            if (volts - stands).abs() <= (STANDS * self.top).max(6.0 * noise).max(1.01 * grain) {
                return self.steady(volts);
            }
            self.rest = None;
            self.end = (last_s.max(self.end.0), stands);
            self.left_s = self.end.0;
            self.maybe = (t_s, volts);
            self.steady.clear();
            return self.piece_to(t_s, volts);
        }
        let since_s = t_s - self.maybe.0;
        let drifted = (volts - self.maybe.1).abs();
        if drifted > (STILL * self.pace * since_s + 3.0 * noise).max(1.01 * grain) {
            self.maybe = (t_s, volts);
        }
        let from_s = STANDS_FROM_S.max((12.0 * noise / self.pace).min(LONGEST_DOUBT_S));
        if t_s - self.maybe.0 >= from_s {
            self.stand(self.maybe.0, volts);
            self.unread = false;
        } else if (volts - self.end.1).abs() > PIECE * self.top || last_v == 0.0 {
            self.piece_to(t_s, volts);
        }
    }

    /// How far two readings of a standing voltage stray, one standard deviation.
    fn noise(&self, grain: f64) -> f64 {
        let (sum, count) = self.strays;
        let told = if count > 8.0 { (sum / count).sqrt() } else { STRAYS };
        (told * self.top).max(0.3 * grain)
    }

    /// The same of the difference of two means of so many readings.
    pub(crate) fn stray(&self, count: f64) -> f64 {
        self.noise(0.0) * (2.0 / count.max(1.0)).sqrt()
    }

    pub(crate) fn pace(&self) -> f64 {
        self.pace
    }

    fn steady(&mut self, volts: f64) {
        self.steady.push(volts);
        if self.steady.len() > 3 {
            self.steady.remove(0);
        }
        if let [a, b, c] = self.steady[..]
            && volts > 0.0
        {
            let fade = if self.strays.1 > 200.0 { 0.99 } else { 1.0 };
            let bend = ((a - 2.0 * b + c) / volts).powi(2) / 6.0;
            self.strays = (self.strays.0 * fade + bend, self.strays.1 * fade + 1.0);
        }
    }

    /// The level that somebody said, as it is read.
    fn read_as(&mut self, since_s: f64, volts: f64) {
        self.unread = false;
        if let (Some(piece), Some((_, said))) = (self.pieces.last_mut(), self.rest)
            && piece.to_s == since_s
        {
            piece.volts += volts - said;
            self.end.1 = volts;
            self.rest = Some((since_s, volts));
        }
    }

    /// Somebody said that the voltage leaves where it stood.
    pub(crate) fn leaves(&mut self, t_s: f64) {
        if let Some((_, stands)) = self.rest.take() {
            self.end = (t_s.max(self.end.0), stands);
            self.left_s = self.end.0;
            self.maybe = (t_s, f64::NEG_INFINITY);
        }
    }

    /// It stands here since then.
    pub(crate) fn stand(&mut self, since_s: f64, volts: f64) {
        let since_s = since_s.max(self.end.0);
        self.piece_to(since_s, volts);
        self.rest = Some((since_s, volts));
        self.unread = true;
        self.steady.clear();
    }

    fn piece_to(&mut self, t_s: f64, volts: f64) {
        let (from_s, from_v) = self.end;
        if volts != from_v {
            self.pieces.push(Piece { from_s, to_s: t_s.max(from_s), volts: volts - from_v });
        }
        self.end = (t_s.max(from_s), volts);
        if self.pieces.len() > MOST {
            self.put_together();
        }
    }

    /// The two neighbours that lie closest for their age become one.
    fn put_together(&mut self) {
        let now = self.end.0;
        let gap = |pair: &[Piece]| (pair[1].to_s - pair[0].from_s) / (now - pair[1].to_s + 1.0);
        let pairs = self.pieces.windows(2).map(gap).enumerate();
        let Some((at, _)) = pairs.min_by(|a, b| a.1.total_cmp(&b.1)) else { return };
        let next = self.pieces.remove(at + 1);
        let one = &mut self.pieces[at];
        one.to_s = next.to_s;
        one.volts += next.volts;
    }

    /// The middle of the last rise, weighted by what each part of it added.
    pub(crate) fn middle(&self) -> f64 {
        let parts = self.pieces.iter().rev().take_while(|piece| piece.to_s > self.left_s);
        let (sum, at) = parts.fold((0.0, 0.0), |(sum, at), piece| {
            (sum + piece.volts, at + piece.volts * 0.5 * (piece.from_s + piece.to_s))
        });
        let middle = at / sum;
        if middle.is_finite() { middle.clamp(self.left_s, self.end.0) } else { self.end.0 }
    }

    /// Every change so far, older ones put together.
    pub(crate) fn pieces(&self) -> &[Piece] {
        &self.pieces
    }

    /// Since when it stands and where; `None` while it moves.
    pub(crate) fn rest(&self) -> Option<(f64, f64)> {
        self.rest
    }

    /// Σ ΔV·age⁻ⁿ at this time, with a rise as its integral.
    pub(crate) fn absorbed(&self, t_s: f64, exponent: f64) -> f64 {
        let open = self.last.filter(|_| self.rest.is_none()).map(|(last_s, volts)| Piece {
            from_s: self.end.0,
            to_s: last_s,
            volts: volts - self.end.1,
        });
        let open = open.filter(|piece| piece.to_s > piece.from_s);
        let all = self.pieces.iter().chain(&open);
        all.filter(|piece| piece.from_s < t_s).map(|piece| piece.absorbed(t_s, exponent)).sum()
    }

    /// The same where one more step by so much had been made at this time.
    pub(crate) fn absorbed_after(&self, next: Piece, t_s: f64, exponent: f64) -> f64 {
        self.absorbed(t_s, exponent) + next.absorbed(t_s, exponent)
    }
}
