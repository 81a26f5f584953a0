// Package browsertest drives Debian's Chromium for tests and measurements of the
// pages a phone shows.
//
// A page's uncaught exceptions and error messages on its console are faults, and
// [Start] fails the test that met one. That the network is gone is not: killing
// the server is how these tests go offline.
//
// It knows nothing of the pages themselves.
package browsertest
