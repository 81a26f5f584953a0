// Package drawing makes the drawings of a job as SVG: the elevation of one
// surface with what is planned on it and what was measured.
//
// Promises:
//   - every drawing is to scale, seen by someone who faces the surface from inside
//     the room: along runs to the right and up runs up, on a ceiling too, where it
//     is what one sees facing the front wall and looking overhead;
//   - at 390 CSS pixels' width no text is smaller than 11 pixels, and no label
//     covers another; one that finds no room stands below the picture instead;
//   - what was planned, what was measured and how it was judged differ in shape
//     and word, not in colour alone;
//   - a drawing carries a title and a description that say the same in words;
//   - classes and presentation attributes only: a page that forbids inline styles
//     shows it as it is, and the style sheet gives light and dark.
//
// It decides nothing: verdicts come with the spots.
package drawing
