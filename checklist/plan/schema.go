package plan

import _ "embed"

//go:embed plan.schema.json
var schema string

// Schema is the JSON Schema (draft 2020-12) of a plan document. It describes the form; what one part says about another
// only [Decode] checks.
func Schema() string { return schema }
