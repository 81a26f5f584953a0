// Package fixing screens what holds a loudspeaker bracket: the load on each
// fixing, what the fixing can carry, the hole to drill for it and the proof load
// to hang before the loudspeaker goes on.
//
// The way through the package is [Screen]: a [Load] on a plate, the [Fixing]
// through each of its holes and the [Base] behind give a [Screening]. Its parts
// can be used alone: [Forces] for the statics, [Lookup], [Withdrawal], [Shear],
// [Combined] and [Pilot] for fixings in wood after NDS 2018, the Eurocode 5
// functions for metric screws, [ProofLoad] for the test.
//
// Guarantees: SI units throughout (metres, newtons, kilograms, pascals, radians,
// degrees Celsius); what returns an error checks its input, never returns NaN or
// an infinity, and answers bad input with one [InputError] that names the field
// and wraps a sentinel. Small helpers without an error are for checked input. Every figure knows its
// source and how far that source was verified ([Screening.Trace]). A design value
// and a factor on ultimate strength never meet in one comparison: [Basis] picks
// one. Plasterboard alone never passes.
//
// What it does not do: it is a screening aid. It does not judge the steel of the
// screw or the bracket, the framing itself, vibration, earthquake or people
// hanging on the loudspeaker, and it defers to local building rules and to
// whoever is licensed or qualified to apply them.
package fixing
