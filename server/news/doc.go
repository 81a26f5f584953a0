// Package news tells those who listen that a job's log has grown.
//
// It gives hints and no content: a hint names a job and the position of its last
// record, and whoever hears it asks for the records as always. Telling costs
// something for each listener and nothing for each job; it never waits for a
// listener, and what one has not taken yet is told once, with the latest position.
// A stream ends by itself well before a connection's time to write is over, when
// its listener is gone or is put out, when the same device opens another, and when the
// server stops.
//
// It does not promise that a hint arrives: listeners look for themselves as well.
package news
