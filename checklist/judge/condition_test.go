package judge_test

import (
	"encoding/json"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist/judge"
	"hangtrue/compute/gauge"
)

// What is not one of the answers that hold does not hold, and what stops work says
// so to everybody.
func TestConditions(t *testing.T) {
	const w, o, u = gauge.Within, gauge.Outside, gauge.Unsure
	for _, row := range []struct {
		check, channel, field string
		answers               map[string]gauge.Verdict
		barred                bool
	}{
		{"isolate.how", "", "how", map[string]gauge.Verdict{"unplugged": w, "locked": w, "absent": w, "live": o, "": o, "?": o}, true},
		{"mark.on_hand", "M+030", "on_hand", map[string]gauge.Verdict{"here": w, "missing": o, "": o, "?": o}, false},
		{"hang.retained", "M+030", "retained", map[string]gauge.Verdict{"locked": w, "tethered": w, "loose": o, "standing": o, "": o}, true},
		{"hang.retained", "U+045", "retained", map[string]gauge.Verdict{"locked": o, "tethered": w, "loose": o, "standing": o, "": o}, true},
		{"hang.retained", "U-135", "retained", map[string]gauge.Verdict{"locked": o, "tethered": w}, true}, // the slope hangs over people too
		{"hang.retained", "LFE1", "retained", map[string]gauge.Verdict{"standing": w, "locked": o, "": o}, true},
		{"polarity.result", "M+030", "result", map[string]gauge.Verdict{"right": w, "reversed": o, "unclear": u, "": u, "?": u}, false},
		{"polarity.source", "M+030", "from", map[string]gauge.Verdict{"M+030": w, "M-030": o, judge.Nothing: u, "": u}, false},
	} {
		for answer, want := range row.answers {
			got := named(t, judge.Run([]string{row.check}, recorded(demo(t), row.channel, nil, chosen{row.field: answer}, nil)), row.check)
			assert.Equal(t, want, got.Verdict, "%s at %s: %q", row.check, row.channel, answer)
			assert.Equal(t, row.barred, got.Barred, row.check)
			assert.Equal(t, want == u, got.Settle != "", "%s: %q", row.check, answer)
			sound(t, got)
		}
	}
	swapped := judge.Run([]string{"polarity.source"}, recorded(demo(t), "M+030", nil, chosen{"from": "M-030"}, nil))[0]
	assert.Equal(t, "The sound came from M-030. Look at the amplifier channel and the labels.", swapped.Says)
}

func TestChannelsHeard(t *testing.T) {
	p := demo(t)
	heard := chosen{}
	for _, m := range p.Mounts {
		heard["heard/"+m.Channel] = m.Channel
	}
	verdict, _ := judge.Worst(judge.Run([]string{"channels.heard"}, recorded(p, "", nil, heard, nil)))
	assert.Equal(t, gauge.Within, verdict)
	heard["heard/M+090"], heard["heard/M+135"], heard["heard/LFE1"] = "M+135", "M+090", judge.Nothing
	delete(heard, "heard/U+045")
	checks := judge.Run([]string{"channels.heard"}, recorded(p, "", nil, heard, nil))
	require.Len(t, checks, len(p.Mounts))
	wrong := map[string]gauge.Verdict{}
	for _, c := range checks {
		if c.Verdict != gauge.Within {
			wrong[c.Subject] = c.Verdict
			sound(t, c)
		}
	}
	assert.Equal(t, map[string]gauge.Verdict{"M+090": gauge.Outside, "M+135": gauge.Outside, "LFE1": gauge.Unsure, "U+045": gauge.Unsure}, wrong)
}

func TestCalibrationDistances(t *testing.T) {
	p := demo(t)
	report := func(added float64, change map[string]float64) measured {
		m := measured{}
		for _, mount := range p.Mounts {
			s, err := p.Sight(mount.Channel, "")
			require.NoError(t, err)
			m["reported_um/"+mount.Channel] = um(s.Distance + added + change[mount.Channel])
		}
		return m
	}
	run := func(m measured) []judge.Check {
		checks := judge.Run([]string{"calibration.distances"}, recorded(p, "", m, nil, nil))
		for _, c := range checks {
			sound(t, c)
		}
		return checks
	}
	verdict, _ := judge.Worst(run(report(0, nil)))
	assert.Equal(t, gauge.Within, verdict)
	verdict, _ = judge.Worst(run(report(0.31, nil)))
	assert.Equal(t, gauge.Within, verdict, "a constant added to all does no harm")

	far := map[string]gauge.Verdict{}
	for _, c := range run(report(0, map[string]float64{"M-030": 0.9})) {
		if c.Verdict == gauge.Outside {
			far[c.Subject] = c.Verdict
			assert.Regexp(t, `^M-030 is reported 9[0-9]{2} mm from where it hangs\.$|^M-030 is reported 8[0-9]{2} mm from where it hangs\.$`, c.Says)
		}
	}
	assert.Equal(t, map[string]gauge.Verdict{"M-030": gauge.Outside}, far)

	near, _ := p.Sight("M+090", "")
	other, _ := p.Sight("M+135", "")
	crossed := run(report(0, map[string]float64{"M+090": other.Distance - near.Distance, "M+135": near.Distance - other.Distance}))
	swap := named(t, crossed, "calibration.distances swap")
	assert.Equal(t, "M+090 and M+135 look swapped. Look at the cables before moving anything.", swap.Says)
	assert.Equal(t, "M+090, M+135", swap.Subject)

	assert.Empty(t, run(nil), "reports are optional")
	lone := run(measured{"reported_um/M+030": um(4)})
	assert.NotContains(t, verdicts(lone), "outside")
}

// The answers that the template offers are those the checks know: of each list, these
// let the step pass.
func TestConditions_KnowTheTemplatesAnswers(t *testing.T) {
	data, err := os.ReadFile("../steps.json")
	require.NoError(t, err)
	var template struct {
		Steps []struct {
			ID     string
			Fields []struct {
				ID      string
				Options []struct{ ID string }
			}
		}
	}
	require.NoError(t, json.Unmarshal(data, &template))
	offered := map[string][]string{}
	for _, step := range template.Steps {
		for _, field := range step.Fields {
			for _, o := range field.Options {
				offered[step.ID+" "+field.ID] = append(offered[step.ID+" "+field.ID], o.ID)
			}
		}
	}
	delete(offered, "polarity method") // it is kept for the record and not judged
	for _, row := range []struct {
		field, key, check, channel string
		pass                       []string
	}{
		{"isolate how", "how", "isolate.how", "", []string{"unplugged", "locked", "absent"}},
		{"rack air", "air", "rack.air", "", []string{"free"}},
		{"mark on_hand", "on_hand", "mark.on_hand", "M+030", []string{"here"}},
		{"studs behind", "behind", "studs.behind", "M+030", []string{"stud", "masonry", "concrete"}},
		{"studs looked", "looked", "studs.hidden", "M+030", []string{"detector", "opened"}},
		{"studs found", "found", "studs.hidden", "M+030", []string{"nothing", "clear"}},
		{"drill proof", "proof", "drill.proof", "M+030", []string{"held"}},
		{"wire labels", "labels", "wire.labels", "M+030", []string{"both"}},
		{"hang retained", "retained", "hang.retained", "M+030", []string{"locked", "tethered"}},
		{"hang retained", "retained", "hang.retained", "LFE1", []string{"standing"}},
		{"polarity result", "result", "polarity.result", "M+030", []string{"right"}},
	} {
		require.NotEmpty(t, offered[row.field], row.field)
		var pass []string
		for _, answer := range offered[row.field] {
			given := chosen{"looked": "detector", "found": "nothing"}
			given[row.key] = answer
			checks := judge.Run([]string{row.check}, recorded(demo(t), row.channel, measured{"hazard_um": um(1)}, given, nil))
			if verdict, _ := judge.Worst(checks); verdict == gauge.Within {
				pass = append(pass, answer)
			}
		}
		assert.Equal(t, row.pass, pass, row.field)
	}
	for field := range offered {
		switch field {
		case "isolate how", "rack air", "mark on_hand", "studs behind", "studs looked", "studs found", "drill proof", "wire labels", "hang retained", "polarity result":
		default:
			assert.Fail(t, "no check is held to the answers of "+field)
		}
	}
}
