// Package tape reads and writes lengths the way people type them and tapes show them.
//
// Guarantees: what [Parse] returns is finite, at most [MaxLength] either way, and exact to the rational number
// that was typed (an inch is 25.4 mm); a text that could be read in two ways is refused, never guessed.
// What [Format] and [FormatSmall] write, [Parse] reads back to within half a division of the system.
//
// It does not know instruments or their errors (package gauge does), nor what a length is for. A length that was
// read is never rounded to a division; only text shown to people is.
package tape
