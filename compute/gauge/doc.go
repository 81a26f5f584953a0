// Package gauge says what a measurement is worth: its uncertainty, and the verdict it supports.
//
// Uncertainties follow the GUM (JCGM 100:2008): contributions that are standard uncertainties, combined by the law of
// propagation ([Propagate], [Correlated]), expanded with k = 2 ([K]). Verdicts follow guarded acceptance as JCGM 106:2012
// describes it ([Judge], [Limits.Judge], [Evaluate]). [Agree] and [Slips] compare two independent measurements of one thing.
//
// Guarantees: verdicts compare whole quanta (micrometres, microradians), so that every machine gives the same one, and a
// value exactly at a limit counts as good. Input that is not finite never gives within or outside: it is unsure, or an error.
// [Judge], [Limits.Judge] and [Evaluate] allocate nothing.
//
// JCGM 100 and 106 were not at hand: their formulas were read in libraries that implement them, clause and equation numbers
// are from memory, not verified, and test values say which of them are. Figures without a published source say
// "common practice, no source" in [Component.Basis].
//
// All quantities of one call share one unit, metres or radians as a rule. The package knows no geometry: sensitivities come
// from whoever derives a quantity.
package gauge
