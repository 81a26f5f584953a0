package gauge_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/compute/gauge"
	"hangtrue/compute/tape"
)

func TestAgree(t *testing.T) { // |a-b| <= 2 sqrt(ua^2+ub^2): 3 and 4 mm give 10 mm
	for _, row := range []struct {
		a, b float64
		want bool
	}{{1.250, 1.260, true}, {1.260, 1.250, true}, {1.250, 1.260001, false}, {1.25, 1.25, true}, {math.NaN(), 1, false}, {1, math.Inf(1), false}} {
		g := gauge.Agree(row.a, 0.003, row.b, 0.004, gauge.Micrometre)
		assert.Equal(t, row.want, g.Agrees, "%g %g", row.a, row.b)
		assert.InDelta(t, 0.010, g.Limit, 1e-12)
	}
	assert.False(t, gauge.Agree(1, -0.003, 1, 0.004, gauge.Micrometre).Agrees)
	assert.False(t, gauge.Agree(1, math.NaN(), 1, 0.004, gauge.Micrometre).Agrees)
}

// Each row is a slip made on purpose: what the tape says and what is true, by hand.
func TestSlips_FindsTheSlip(t *testing.T) {
	for _, row := range []struct {
		name          string
		reading, true float64
		system        tape.System
		span, hook    float64
		kind          gauge.SlipKind
	}{
		{"1.254 for 1.524", 1.254, 1.524, tape.Metric, 4, 0, gauge.SwappedDigits},
		{"1.245 for 1.254", 1.245, 1.254, tape.Metric, 4, 0, gauge.SwappedDigits},
		{"2.154 for 1.254", 2.154, 1.254, tape.Metric, 4, 0, gauge.SwappedDigits},
		{"0.954 for 9.054", 0.954, 9.054, tape.Metric, 12, 0, gauge.SwappedDigits},
		{"100 mm short", 1.254, 1.354, tape.Metric, 4, 0, gauge.WrongStep},
		{"10 mm long", 1.266, 1.256, tape.Metric, 4, 0, gauge.WrongStep},
		{"1 m short", 1.254, 2.254, tape.Metric, 4, 0, gauge.WrongStep},
		{"from the right", 1.254, 2.746, tape.Metric, 4, 0, gauge.WrongCorner},
		{"hook counted", 1.278, 1.254, tape.Metric, 4, 0.024, gauge.HookMissed},
		{"a foot short", 49.375 * 0.0254, 61.375 * 0.0254, tape.Imperial, 4, 0, gauge.WrongStep},
		{"an inch long", 49.375 * 0.0254, 48.375 * 0.0254, tape.Imperial, 4, 0, gauge.WrongStep},
		{"49 3/8 for 94 3/8", 49.375 * 0.0254, 94.375 * 0.0254, tape.Imperial, 4, 0, gauge.SwappedDigits},
	} {
		t.Run(row.name, func(t *testing.T) {
			slips := gauge.Slips(gauge.Doubt{
				Reading: row.reading, System: row.system, Span: row.span, Hook: row.hook,
				Other: row.true + 0.0004, Limit: 0.004, Quantum: gauge.Micrometre,
			})
			require.NotEmpty(t, slips)
			assert.Equal(t, row.kind, slips[0].Kind)
			assert.InDelta(t, row.true, slips[0].Value, 1e-9)
			assert.InDelta(t, row.true-row.reading, slips[0].Step, 1e-9)
			assert.InDelta(t, -0.0004, slips[0].Residual, 1e-9)
			assert.NotEmpty(t, slips[0].Kind.String())
		})
	}
}

// A tape coordinate against the straight distance from the ear point, 2.4 m off the wall: Predict carries one to the other.
func TestSlips_ThroughAnotherQuantity(t *testing.T) {
	distance := func(along float64) float64 { return math.Hypot(along-2, 2.4) }
	d := gauge.Doubt{
		Reading: 0.732, Predict: distance, Other: distance(0.372), // tape says 0.732, hole is at 0.372
		Span: 4, Limit: 0.008, Quantum: gauge.Micrometre,
	}
	slips := gauge.Slips(d)
	require.Len(t, slips, 1)
	assert.Equal(t, gauge.SwappedDigits, slips[0].Kind)
	assert.InDelta(t, 0.372, slips[0].Value, 1e-9)
	assert.InDelta(t, 0, slips[0].Residual, 1e-9)
}

func TestSlips_Nothing(t *testing.T) {
	base := gauge.Doubt{Reading: 1.254, Other: 1.524, Limit: 0.004, Span: 4, Quantum: gauge.Micrometre}
	require.NotEmpty(t, gauge.Slips(base))
	for name, change := range map[string]func(*gauge.Doubt){
		"they agree":              func(d *gauge.Doubt) { d.Other = 1.255 },
		"nothing explains it":     func(d *gauge.Doubt) { d.Other = 3.333 },
		"beyond the other corner": func(d *gauge.Doubt) { d.Span = 1.4 },
		"reading not finite":      func(d *gauge.Doubt) { d.Reading = math.NaN() },
		"other not finite":        func(d *gauge.Doubt) { d.Other = math.Inf(1) },
		"limit not finite":        func(d *gauge.Doubt) { d.Limit = math.NaN() },
		"limit negative":          func(d *gauge.Doubt) { d.Limit = -1 },
		"no quantum":              func(d *gauge.Doubt) { d.Quantum = 0 },
		"prediction not finite":   func(d *gauge.Doubt) { d.Predict = func(float64) float64 { return math.NaN() } },
	} {
		d := base
		change(&d)
		assert.Empty(t, gauge.Slips(d), name)
	}
}

// Every slip that is offered reconciles the two, lies on the surface, and none is offered twice or out of order.
func TestSlips_Properties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := gauge.Doubt{
			Reading: float64(rapid.IntRange(0, 6000).Draw(t, "reading mm")) / 1000,
			System:  rapid.SampledFrom([]tape.System{tape.Metric, tape.Imperial}).Draw(t, "system"),
			Span:    rapid.Float64Range(0, 8).Draw(t, "span"),
			Hook:    rapid.SampledFrom([]float64{0, 0.001, 0.03}).Draw(t, "hook"),
			Other:   rapid.Float64Range(0, 8).Draw(t, "other"),
			Limit:   rapid.Float64Range(0, 0.05).Draw(t, "limit"),
			Quantum: gauge.Micrometre,
		}
		last := 0.0
		seen := map[int64]bool{}
		for _, s := range gauge.Slips(d) {
			residual := math.Abs(s.Value - d.Other)
			um := int64(math.Round(s.Value * 1e6))
			if residual > d.Limit+2e-6 || s.Value < 0 || d.Span > 0 && s.Value > d.Span || seen[um] || residual < last-2e-6 {
				t.Fatalf("%+v after residual %g", s, last)
			}
			seen[um], last = true, residual
		}
	})
}
