package simulate

// Flaws by the name of what is broken on purpose.
var Flaws = []flaw{flawDrop, flawEarly, flawTorn, flawHold, flawSeal, flawNumber, flawStale, flawSaid, flawBlock}

// With is the same run with a flaw.
func (o Options) With(f flaw) Options {
	o.broken = f
	return o
}

// Subject is the promise that a result says was broken.
var Subject = subject
