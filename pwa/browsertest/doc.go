// Package browsertest drives Debian's Chromium for tests and measurements of the
// pages a phone shows.
//
// A page's uncaught exceptions and error messages on its console are faults, and
// [Start] fails the test that met one. That the network is gone is not: killing
// the server is how these tests go offline.
//
// [Crawl] goes through a site by its own links, one page of every kind; what
// [Browser.Examine] brings along looks at a page as people meet it: does it fit the
// screen, can a finger hit what it should, does the keyboard reach everything, is it
// fit to print. [Axe] asks axe-core, which package.json pins for these tests alone.
//
// It knows nothing of the pages themselves.
package browsertest
