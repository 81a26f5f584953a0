// Package demo embeds the demo job, so that the program can show itself without a
// file beside it.
package demo

import _ "embed"

// Plan is the plan document of the demo job.
//
//go:embed plan.json
var Plan []byte
