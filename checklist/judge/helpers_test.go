package judge_test

import (
	"fmt"
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"hangtrue/checklist/judge"
	"hangtrue/checklist/plan"
)

const degree = math.Pi / 180

// demo is the attic lounge, a fresh copy at each call.
func demo(t testing.TB) *plan.Plan { return decoded(t, "../../testdata/demo/plan.json") }

// example is two loudspeakers on one framed wall, a fresh copy at each call.
func example(t testing.TB) *plan.Plan { return decoded(t, "../../testdata/plans/example.json") }

func decoded(t testing.TB, name string) *plan.Plan {
	t.Helper()
	data, err := os.ReadFile(name)
	require.NoError(t, err)
	p, err := plan.Decode(data)
	require.NoError(t, err)
	return p
}

func demoMeasured(t testing.TB, p *plan.Plan) *plan.Measured {
	t.Helper()
	data, err := os.ReadFile("../../testdata/demo/measured.json")
	require.NoError(t, err)
	m, err := plan.DecodeMeasured(data, p)
	require.NoError(t, err)
	return m
}

// um are recorded lengths, given in metres.
func um(metres ...float64) []int64 {
	var all []int64
	for _, m := range metres {
		all = append(all, int64(math.Round(m*1e6)))
	}
	return all
}

// mdeg are recorded angles, given in degrees.
func mdeg(degrees ...float64) []int64 {
	var all []int64
	for _, d := range degrees {
		all = append(all, int64(math.Round(d*1e3)))
	}
	return all
}

type (
	measured = map[string][]int64
	chosen   = map[string]string
	evidence = map[string]judge.Evidence // by "step" or "step/mount"
)

// recorded is a case at a mount; at a step of the job the channel is empty.
func recorded(p *plan.Plan, channel string, m measured, c chosen, prior evidence) judge.Case {
	k := judge.Case{Plan: p, Measured: m, Chosen: c, Prior: func(step, mount string) (judge.Evidence, bool) {
		e, ok := prior[step+"/"+mount]
		if !ok && mount == channel {
			e, ok = prior[step]
		}
		return e, ok
	}}
	if channel != "" {
		k.Mount = p.MountByChannel(channel)
	}
	return k
}

// named is the only check of a name among checks.
func named(t testing.TB, checks []judge.Check, name string) judge.Check {
	t.Helper()
	var found []judge.Check
	for _, c := range checks {
		if c.Name == name {
			found = append(found, c)
		}
	}
	require.Len(t, found, 1, "%s among %v", name, verdicts(checks))
	return found[0]
}

// verdicts tells checks in short: "M+030 mark.spot along: within".
func verdicts(checks []judge.Check) []string {
	var all []string
	for _, c := range checks {
		all = append(all, fmt.Sprintf("%s %s: %s", c.Subject, c.Name, c.Verdict))
	}
	return all
}
