// Package strict reads foreign JSON into Go structs and refuses whatever it does not fully understand.
//
// Guarantees of [Decode]: it never panics on data, never guesses, and names every problem of a document at once, each
// with its place (RFC 6901 pointer), what was read and what is wanted. Accepted means: UTF-8 within [MaxSize] and
// [MaxDepth]; JSON as in RFC 8259; no key twice, none unknown, none missing that the struct has without omitempty;
// no null; no number of 1e12 or more; texts without control characters and within [MaxText].
//
// The key says the unit. A key ending in `_m` is metres: a number, or what a tape says ("1254 mm", `4' 1 3/8"`), read
// to whole micrometres. A key ending in `_deg` is degrees in the document and radians in Go, read to whole millionths
// of a degree. Both hold inside arrays too, and for float64 alone. Because both are whole numbers of something, what
// [Encode] writes of a value that [Decode] read is the same value again, bit for bit.
//
// An empty array and an absent one are the same: both are read as a nil slice, an empty map as a nil map.
//
// It does not know what the values mean: ranges, names and references are for the caller, who adds his own problems
// and sorts them in with [Problems.Sort].
package strict
