package workings_test

import (
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist/judge"
	"hangtrue/checklist/plan"
	"hangtrue/checklist/workings"
	"hangtrue/compute/gauge"
)

func verdicts(checks []judge.Check) map[string]gauge.Verdict {
	out := map[string]gauge.Verdict{}
	for _, c := range checks {
		if c.Verdict != gauge.Within {
			out[c.Subject+" "+c.Name] = c.Verdict
		}
	}
	return out
}

// The demo is sound, and each change breaks one thing that alone is found.
func TestChecks(t *testing.T) {
	data, err := os.ReadFile("../../testdata/demo/plan.json")
	require.NoError(t, err)
	for _, row := range []struct {
		what   string
		change func(*plan.Plan)
		want   map[string]gauge.Verdict
	}{
		{"nothing", func(*plan.Plan) {}, map[string]gauge.Verdict{}},
		{"two loudspeakers on one channel", func(p *plan.Plan) { p.MountByChannel("M-030").AmpChannel = 1 }, map[string]gauge.Verdict{" feeds.map": gauge.Outside}},
		{"a cable that cannot reach", func(p *plan.Plan) { p.MountByChannel("M+030").Route = 2 }, map[string]gauge.Verdict{"M+030 feeds.route": gauge.Unsure}},
		{"a thousandth of the power", func(p *plan.Plan) {
			for i := range p.Amplifiers {
				p.Amplifiers[i].Power /= 1000
			}
		}, nil},
	} {
		p, err := plan.Decode(data)
		require.NoError(t, err)
		row.change(p)
		got := verdicts(workings.Checks(p))
		if row.want == nil { // every passive loudspeaker, by however much
			assert.Len(t, got, 11, row.what)
			continue
		}
		assert.Equal(t, row.want, got, row.what)
	}
}
