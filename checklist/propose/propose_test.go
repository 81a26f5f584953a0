package propose_test

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist/plan"
	"hangtrue/checklist/propose"
	"hangtrue/checklist/strict"
)

var update = flag.Bool("update", false, "write the golden files anew")

func demo(t testing.TB) *plan.Plan {
	data, err := os.ReadFile("../../testdata/demo/plan.json")
	require.NoError(t, err)
	p, err := plan.Decode(data)
	require.NoError(t, err)
	return p
}

func mounts(t testing.TB, p *plan.Plan, ask propose.Ask) propose.Proposal {
	t.Helper()
	proposed, err := propose.Mounts(p, ask)
	require.NoError(t, err)
	return proposed
}

func spotOf(t testing.TB, proposed propose.Proposal, channel string) propose.Spot {
	t.Helper()
	i := slices.IndexFunc(proposed.Spots, func(s propose.Spot) bool { return s.Mount.Channel == channel })
	require.GreaterOrEqual(t, i, 0, channel)
	return proposed.Spots[i]
}

// text is a proposal as a person reads it.
func text(proposed propose.Proposal) string {
	var b strings.Builder
	for _, s := range proposed.Spots {
		m := s.Mount
		fmt.Fprintf(&b, "%s: %s on %s at %.4f, %.4f m", m.Channel, m.Model, m.Surface, m.Along, m.Up)
		for _, x := range []string{m.Bracket, m.Fixing, m.Bridge, m.Cable} {
			if x != "" {
				b.WriteString("; " + x)
			}
		}
		fmt.Fprintf(&b, "; %.1f m; output %d; %s %d\n", m.Route, m.Output, m.Amplifier, m.AmpChannel)
		for mark, lines := range [3][]string{s.Why, s.Cautions, s.Open} {
			for _, line := range lines {
				fmt.Fprintf(&b, "  %c %s\n", "-!?"[mark], line)
			}
		}
	}
	for _, c := range proposed.Cannot {
		fmt.Fprintf(&b, "%s cannot be placed\n", c.Channel)
		for mark, lines := range [2][]string{c.Why, c.Give} {
			for _, line := range lines {
				fmt.Fprintf(&b, "  %c %s\n", "->"[mark], line)
			}
		}
	}
	return b.String()
}

// What the demo room and some random ones are told, read by eye when they were written.
func TestMounts_Reasons(t *testing.T) {
	without := room("0+5+0", 11)
	without.Brackets = nil
	for name, p := range map[string]*plan.Plan{
		"demo": demo(t), "small": room("4+5+0", 30), "inches": room("4+7+0", 3), "refusals": room("4+5+1", 4), "stands": without,
	} {
		t.Run(name, func(t *testing.T) {
			got := text(mounts(t, p, propose.Ask{}))
			file := filepath.Join("testdata", name+".golden")
			if *update {
				require.NoError(t, os.WriteFile(file, []byte(got), 0o644))
			}
			want, err := os.ReadFile(file)
			require.NoError(t, err)
			wanted, lines := strings.Split(string(want), "\n"), strings.Split(got, "\n")
			require.Len(t, lines, len(wanted))
			for i := range lines {
				assert.Equal(t, wanted[i], lines[i], "line %d", i+1)
			}
		})
	}
}

func TestMounts_NamesWhatIsMissing(t *testing.T) {
	_, err := propose.Mounts(&plan.Plan{}, propose.Ask{})
	var problems strict.Problems
	require.ErrorAs(t, err, &problems)
	var at []string
	for _, p := range problems {
		at = append(at, p.Pointer)
	}
	assert.Equal(t, []string{"/layout", "/room", "/listening_positions", "/loudspeakers",
		"/tolerances/azimuth_deg", "/tolerances/elevation_deg", "/tolerances/pair_azimuth_deg", "/tolerances/pair_height_m"}, at)
}

// A plan that has no electronics, no fixings and no cables yet is placed all the same, and says what is open.
func TestMounts_TakesAPlanAsFarAsItGoes(t *testing.T) {
	p := demo(t)
	p.Mounts, p.Amplifiers, p.Cables, p.Processor = nil, nil, nil, plan.Processor{}
	spot := spotOf(t, mounts(t, p, propose.Ask{}), "M+000")
	assert.Equal(t, []string{"The plan has no processor yet, so there is no output for it.", "The plan has no amplifier yet, so there is no channel for it.",
		"The plan has no cable for it yet."}, spot.Open)
	assert.Positive(t, spot.Mount.Route)
}

func TestMounts_LeavesThePlanAsItIs(t *testing.T) {
	p := demo(t)
	before, err := p.Encode()
	require.NoError(t, err)
	first := text(mounts(t, p, propose.Ask{}))
	after, err := p.Encode()
	require.NoError(t, err)
	assert.Equal(t, string(before), string(after))
	assert.Equal(t, first, text(mounts(t, p, propose.Ask{})), "the same again")
}

// A loudspeaker that is hung already stays, what is proposed keeps clear of it, and its partner mirrors it.
func TestMounts_Keep(t *testing.T) {
	p := demo(t)
	var keep []string
	for _, m := range p.Mounts {
		if m.Channel != "M-090" {
			keep = append(keep, m.Channel)
		}
	}
	proposed := mounts(t, p, propose.Ask{Keep: keep})
	require.Len(t, proposed.Spots, 1)
	assert.Empty(t, proposed.Cannot)
	spot := spotOf(t, proposed, "M-090")
	kept, err := p.Sight("M+090", "")
	require.NoError(t, err)
	assert.InDelta(t, -kept.Azimuth, spot.Direction.Azimuth, p.Tolerances.PairAzimuth)
	assert.Equal(t, 6, spot.Mount.Output, "the only one that no other has, of the twelve in use")
	for _, m := range p.Mounts {
		if m.Channel != "M-090" {
			assert.False(t, m.Amplifier == spot.Mount.Amplifier && m.AmpChannel == spot.Mount.AmpChannel, "%s has that channel", m.Channel)
		}
	}
}

// With one of a pair kept where the layout permits nothing that mirrors it, the other is refused.
func TestMounts_KeepWithoutMirror(t *testing.T) {
	p := demo(t)
	p.MountByChannel("M+090").Along = 3.6
	proposed := mounts(t, p, propose.Ask{Keep: []string{"M+090"}})
	i := slices.IndexFunc(proposed.Cannot, func(c propose.Cannot) bool { return c.Channel == "M-090" })
	require.GreaterOrEqual(t, i, 0)
	assert.Contains(t, proposed.Cannot[i].Why[0], "no spot of it mirrors M+090 within 1.5° and 10 mm")
}

// Eleven passive loudspeakers and five amplifier channels: each that has none says so, in the layout's order.
func TestMounts_TooFewAmplifierChannels(t *testing.T) {
	p := demo(t)
	p.Amplifiers = p.Amplifiers[1:]
	proposed := mounts(t, p, propose.Ask{})
	require.Len(t, proposed.Spots, 12)
	var with, without []string
	for _, s := range proposed.Spots {
		switch {
		case s.Mount.Amplifier != "":
			with = append(with, s.Mount.Channel)
			assert.Empty(t, s.Open, s.Mount.Channel)
		case !p.Model(s.Mount.Model).Active:
			without = append(without, s.Mount.Channel)
			assert.Equal(t, []string{"No amplifier channel is left for it: 11 loudspeakers need one, and the amplifiers have 5."}, s.Open, s.Mount.Channel)
		}
	}
	assert.Equal(t, []string{"M+030", "M-030", "M+000", "M+090", "M-090"}, with)
	assert.Len(t, without, 6)
}

// An amplifier that may not drive 4 ohm gets the links opened, and none at all of a loudspeaker without links.
func TestMounts_LoadOfTheAmplifier(t *testing.T) {
	p := demo(t)
	for i := range p.Amplifiers {
		p.Amplifiers[i].LeastLoad = 6
	}
	proposed := mounts(t, p, propose.Ask{})
	assert.Equal(t, "open", spotOf(t, proposed, "M+090").Mount.Bridge)
	proposed = mounts(t, p, propose.Ask{Surround: propose.Gear{Bridge: "fitted"}})
	assert.Equal(t, []string{"No free amplifier channel may drive so low a load. Open the links if there are any, or add an amplifier that may."},
		spotOf(t, proposed, "M+090").Open)
}

// What has no bracket stands on the floor, and where the layout wants it high it cannot be.
func TestMounts_WithoutBracketsItStands(t *testing.T) {
	p := demo(t)
	p.Brackets, p.Mounts = nil, nil
	proposed := mounts(t, p, propose.Ask{})
	for _, s := range proposed.Spots {
		assert.Equal(t, "floor", s.Mount.Surface, s.Mount.Channel)
		assert.Empty(t, s.Mount.Bracket)
		assert.Positive(t, s.Mount.Stand)
	}
	var refused []string
	for _, c := range proposed.Cannot {
		refused = append(refused, c.Channel)
		assert.Contains(t, c.Why[0], "stands on the floor")
	}
	assert.Equal(t, []string{"U+045", "U-045", "U+135", "U-135"}, refused)
}

// A surface whose construction is "other" holds nothing.
func TestMounts_NothingKnownBehind(t *testing.T) {
	p := demo(t)
	for i := range p.Room.Surfaces {
		if p.Room.Surfaces[i].Name == "front" {
			p.Room.Surfaces[i].Construction = plan.Construction{Kind: plan.Other}
		}
	}
	proposed := mounts(t, p, propose.Ask{})
	i := slices.IndexFunc(proposed.Cannot, func(c propose.Cannot) bool { return c.Channel == "M+000" })
	require.GreaterOrEqual(t, i, 0)
	assert.Equal(t, []string{"The front wall: nothing is known behind the front wall that holds a fixing."}, proposed.Cannot[i].Why)
}

func TestDefaults(t *testing.T) {
	p := demo(t)
	ask := propose.Defaults(p)
	assert.Equal(t, "Front A", ask.Screen.Model)
	assert.Equal(t, "Sub A", ask.LFE.Model)
	assert.Equal(t, []string{"Wall bracket"}, ask.Surround.Wall)
	assert.Equal(t, "Joist screw", ask.Height.Fixings[0], "what the group uses comes first")
	assert.Equal(t, "Loudspeaker cable", ask.Surround.Cables[0])
	assert.Equal(t, "Line cable", ask.LFE.Cables[0])

	p.Mounts = nil
	ask = propose.Defaults(p)
	assert.Equal(t, "Front A", ask.Screen.Model)
	assert.Equal(t, "Surround A", ask.Surround.Model)
	assert.Equal(t, "Height A", ask.Height.Model, "the lightest")
	assert.Equal(t, []string{"Ceiling bracket", "Ceiling bracket, turned"}, ask.Height.Overhead)
}
