// Package layout holds the published loudspeaker layouts and their permitted ranges.
//
// Ten layouts are the Sound Systems A to J of ITU-R BS.2051, three are subsets of them under other names (Derived).
// Angles are radians; azimuth is positive to the left (anticlockwise seen from above) and 0 straight ahead, elevation is
// positive up, as in ITU-R BS.2076. Ranges include their ends, and a value at a limit is compared in whole microradians.
// Where the data of two editions differ, both are kept and named.
//
// The recommendation itself was not at hand: the ranges are those that open reference libraries give for its editions
// -1 and -3, see [Layout.Sources]. Rules that were read for one system and assumed for another carry Verified false.
//
// It gives numbers and limits, not verdicts: what a measured deviation is worth is package gauge's work. A range of no
// width is a target; how far from it is still good is the plan's choice, not the recommendation's. Distances are not part
// of a layout.
package layout
