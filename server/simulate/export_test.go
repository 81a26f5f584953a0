package simulate

// Flaws by the name of what is broken on purpose.
var Flaws = []flaw{flawDrop, flawEarly, flawTorn, flawHold, flawSeal, flawNumber, flawStale, flawSaid, flawBlock, flawEdition, flawTold,
	flawRelease, flawLatest, flawSent, flawKeep, flawAgain, flawPlace, flawByte, flawSync, flawName}

// NeedsBackup is the flaw that an old backup alone brings to light.
const NeedsBackup = flawAgain

// With is the same run with a flaw.
func (o Options) With(f flaw) Options {
	o.broken = f
	return o
}

// Subject is the promise that a result says was broken.
var Subject = subject
