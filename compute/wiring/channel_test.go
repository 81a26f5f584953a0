package wiring_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/compute/wiring"
)

// house is a small system without a fault: four passive mounts on two amplifiers, one bridged, and an active subwoofer.
func house() wiring.ChannelMap {
	return wiring.ChannelMap{
		Outputs: 8,
		Amps:    []wiring.Amp{{"Amp 1", 4}, {"Amp 2", 3}},
		Links: []wiring.Link{
			{Mount: "M+030", Output: 1, Amplifier: "Amp 1", AmpChannel: 1},
			{Mount: "M-030", Output: 2, Amplifier: "Amp 1", AmpChannel: 2},
			{Mount: "M+000", Output: 3, Amplifier: "Amp 2", AmpChannel: 1, Bridged: true},
			{Mount: "U+045", Output: 5, Amplifier: "Amp 1", AmpChannel: 4},
			{Mount: "LFE1", Output: 4, Active: true},
		},
		Mounts: []string{"M+030", "M-030", "M+000", "U+045", "LFE1"},
	}
}

func report(t require.TestingT, m wiring.ChannelMap) wiring.Report {
	r, err := m.Check()
	require.NoError(t, err)
	return r
}

func TestChannelMapWithoutFaults(t *testing.T) {
	r := report(t, house())
	assert.True(t, r.Clear(), "%v %v", r.Clashes, r.Gaps)
	assert.Equal(t, []wiring.Port{{"Amp 1", 3}, {"Amp 2", 3}}, r.SpareChannels, "the bridged pair takes 1 and 2")
	assert.Equal(t, []wiring.Port{{Channel: 6}, {Channel: 7}, {Channel: 8}}, r.SpareOutputs)
}

// Each row spoils the faultless map in one way; the sentence is what a person reads.
func TestChannelMapFindsClashes(t *testing.T) {
	for _, r := range []struct {
		spoil func(m *wiring.ChannelMap)
		fault wiring.Fault
		says  string
	}{
		{func(m *wiring.ChannelMap) { m.Links[1].AmpChannel, m.Links[1].Output = 1, 1 }, wiring.ChannelShared, "Amp 1 ch 1: amplifier channel feeds several mounts: M+030, M-030"},
		{func(m *wiring.ChannelMap) { m.Links[1].Output = 1 }, wiring.OutputShared, "output 1: output feeds several channels: M+030, M-030"},
		{func(m *wiring.ChannelMap) { m.Links[4].Output = 1 }, wiring.OutputShared, "output 1: output feeds several channels: M+030, LFE1"},
		{func(m *wiring.ChannelMap) { m.Links[3].Amplifier, m.Links[3].AmpChannel = "Amp 2", 2 }, wiring.HalfOfPair, "Amp 2 ch 2: amplifier channel is half of a bridged pair: M+000, U+045"},
		{func(m *wiring.ChannelMap) { m.Links[2].AmpChannel = 3 }, wiring.PairWithoutSecond, "Amp 2 ch 3: bridged pair has no second channel: M+000"},
		{func(m *wiring.ChannelMap) { m.Links[0].Amplifier = "Amp 9" }, wiring.UnknownAmplifier, "Amp 9 ch 1: no such amplifier: M+030"},
		{func(m *wiring.ChannelMap) { m.Links[0].AmpChannel = 5 }, wiring.NoSuchChannel, "Amp 1 ch 5: no such amplifier channel: M+030"},
		{func(m *wiring.ChannelMap) { m.Links[0].AmpChannel = -1 }, wiring.NoSuchChannel, "Amp 1 ch -1: no such amplifier channel: M+030"},
		{func(m *wiring.ChannelMap) { m.Links[0].Output = 9 }, wiring.NoSuchOutput, "output 9: no such output: M+030"},
		{func(m *wiring.ChannelMap) { m.Links[4].Amplifier, m.Links[4].AmpChannel = "Amp 1", 3 }, wiring.ActiveOnAmplifier, "Amp 1 ch 3: active loudspeaker on an amplifier channel: LFE1"},
		{func(m *wiring.ChannelMap) { m.Links[0].Cable, m.Links[3].Cable = "C7", "C7" }, wiring.CableUsedTwice, "cable used twice (C7): M+030, U+045"},
		{func(m *wiring.ChannelMap) {
			m.Links = append(m.Links, wiring.Link{Mount: "M+030", Output: 1, Amplifier: "Amp 1", AmpChannel: 3})
			m.SharedOutputs = []int{1}
		}, wiring.MountFedTwice, "mount fed by several channels: M+030"},
	} {
		m := house()
		r.spoil(&m)
		got := report(t, m)
		require.Len(t, got.Clashes, 1, r.says)
		assert.Equal(t, r.fault, got.Clashes[0].Fault)
		assert.Equal(t, r.says, got.Clashes[0].String())
		assert.Empty(t, got.Gaps, r.says)
		assert.False(t, got.Clear())
	}
}

func TestChannelMapFindsGaps(t *testing.T) {
	for _, r := range []struct {
		spoil func(m *wiring.ChannelMap)
		says  string
	}{
		{func(m *wiring.ChannelMap) { m.Mounts = append(m.Mounts, "M+090", "M+090") }, "mount without a link: M+090"},
		{func(m *wiring.ChannelMap) { m.Links[0].AmpChannel = 0 }, "mount without an amplifier channel: M+030"},
		{func(m *wiring.ChannelMap) { m.Links[0].Amplifier = "" }, "mount without an amplifier channel: M+030"},
		{func(m *wiring.ChannelMap) { m.Links[0].Output = 0 }, "Amp 1 ch 1: channel without an output: M+030"},
		{func(m *wiring.ChannelMap) { m.Links[4].Output = 0 }, "channel without an output: LFE1"},
	} {
		m := house()
		r.spoil(&m)
		got := report(t, m)
		require.Len(t, got.Gaps, 1, r.says)
		assert.Equal(t, r.says, got.Gaps[0].String())
		assert.Empty(t, got.Clashes, r.says)
	}
}

func TestChannelMapTakesWhatIsDeclared(t *testing.T) {
	m := house()
	m.Links[1].Output = 1
	m.SharedOutputs = []int{1}
	assert.True(t, report(t, m).Clear(), "one output on two channels")

	m = house()
	m.Links = append(m.Links, wiring.Link{Mount: "M+030", Output: 6, Amplifier: "Amp 1", AmpChannel: 3})
	m.SeveralChannels = []string{"M+030"}
	assert.True(t, report(t, m).Clear(), "two amplifier channels on one mount")

	m.Links[5] = m.Links[0]
	m.Links[5].Cable = "second pair of cores"
	assert.True(t, report(t, m).Clear(), "two cables from one channel to one mount")
}

func TestChannelFedTwice(t *testing.T) {
	m := house()
	m.Links[1].AmpChannel = 1 // its own output stays
	var faults []wiring.Fault
	for _, f := range report(t, m).Clashes {
		faults = append(faults, f.Fault)
	}
	assert.Equal(t, []wiring.Fault{wiring.ChannelShared, wiring.ChannelFedTwice}, faults)
}

func TestChannelMapRefusesGearThatIsNotWellFormed(t *testing.T) {
	for _, r := range []struct {
		spoil  func(m *wiring.ChannelMap)
		naming string
	}{
		{func(m *wiring.ChannelMap) { m.Outputs = -1 }, "outputs: read -1"},
		{func(m *wiring.ChannelMap) { m.Outputs = 1000 }, "outputs: read 1000"},
		{func(m *wiring.ChannelMap) { m.Amps[1].Name = "Amp 1" }, `amplifier 2: read name "Amp 1"`},
		{func(m *wiring.ChannelMap) { m.Amps[0].Name = "" }, "amplifier 1"},
		{func(m *wiring.ChannelMap) { m.Amps[0].Channels = -2 }, `amplifier "Amp 1" channels: read -2`},
		{func(m *wiring.ChannelMap) { m.Links[2].Mount = "" }, "link 3: no mount"},
	} {
		m := house()
		r.spoil(&m)
		_, err := m.Check()
		require.ErrorIs(t, err, wiring.ErrMap)
		assert.ErrorContains(t, err, r.naming)
		_, err = m.Labels()
		require.ErrorIs(t, err, wiring.ErrMap)
	}
}

// large is a faultless system of n channels on amplifiers of eight.
func large(n int) wiring.ChannelMap {
	m := wiring.ChannelMap{Outputs: n}
	for i := range n {
		if i%8 == 0 {
			m.Amps = append(m.Amps, wiring.Amp{Name: fmt.Sprint("Amp ", i/8+1), Channels: 8})
		}
		mount := fmt.Sprintf("X%03d", i+1)
		m.Mounts = append(m.Mounts, mount)
		m.Links = append(m.Links, wiring.Link{Mount: mount, Output: i + 1, Amplifier: fmt.Sprint("Amp ", i/8+1), AmpChannel: i%8 + 1})
	}
	return m
}

func TestFiveHundredChannels(t *testing.T) {
	m := large(500)
	r := report(t, m)
	assert.True(t, r.Clear())
	assert.Len(t, r.SpareChannels, 63*8-500)
	labels, err := m.Labels()
	require.NoError(t, err)
	require.Len(t, labels, 1000)
	assert.Equal(t, "C001", labels[0].ID)
	assert.Equal(t, "C500", labels[999].ID)
	m.Links[499].AmpChannel = 3
	assert.Equal(t, "Amp 63 ch 3: amplifier channel feeds several mounts: X499, X500", report(t, m).Clashes[0].String())
}

// anyMap draws links over small gear, so that clashes are frequent.
func anyMap() *rapid.Generator[wiring.ChannelMap] {
	return rapid.Custom(func(t *rapid.T) wiring.ChannelMap {
		m := wiring.ChannelMap{Outputs: rapid.IntRange(0, 5).Draw(t, "outputs"), Mounts: []string{"a", "b", "c"}}
		for i := range rapid.IntRange(0, 3).Draw(t, "amps") {
			m.Amps = append(m.Amps, wiring.Amp{Name: fmt.Sprint("amp ", i), Channels: rapid.IntRange(0, 4).Draw(t, "channels")})
		}
		for range rapid.IntRange(0, 6).Draw(t, "links") {
			m.Links = append(m.Links, wiring.Link{
				Mount:      rapid.SampledFrom([]string{"a", "b", "c", "d"}).Draw(t, "mount"),
				Output:     rapid.IntRange(0, 6).Draw(t, "output"),
				Amplifier:  rapid.SampledFrom([]string{"", "amp 0", "amp 1", "amp 2", "amp 3"}).Draw(t, "amplifier"),
				AmpChannel: rapid.IntRange(-1, 5).Draw(t, "channel"),
				Bridged:    rapid.Bool().Draw(t, "bridged"),
				Active:     rapid.Bool().Draw(t, "active"),
			})
		}
		return m
	})
}

func TestChannelMapInvariants(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := anyMap().Draw(t, "map")
		r := report(t, m)

		// Every channel there is is either spare or used by a link, never both; the same for outputs.
		used := map[wiring.Port]bool{}
		for _, l := range m.Links {
			if !l.Active {
				used[wiring.Port{Amplifier: l.Amplifier, Channel: l.AmpChannel}] = true
				if l.Bridged && l.AmpChannel > 0 {
					used[wiring.Port{Amplifier: l.Amplifier, Channel: l.AmpChannel + 1}] = true
				}
			}
		}
		for _, a := range m.Amps {
			for c := 1; c <= a.Channels; c++ {
				p := wiring.Port{Amplifier: a.Name, Channel: c}
				assert.NotEqual(t, used[p], slices.Contains(r.SpareChannels, p), "%v", p)
			}
		}
		fed := map[int]bool{}
		for _, l := range m.Links {
			fed[l.Output] = true
		}
		for o := 1; o <= m.Outputs; o++ {
			assert.NotEqual(t, fed[o], slices.Contains(r.SpareOutputs, wiring.Port{Channel: o}))
		}

		// A clear map gives each mount, each channel and each output to one link only.
		if r.Clear() {
			mounts, channels, outputs := map[string]int{}, map[wiring.Port]int{}, map[int]int{}
			for _, l := range m.Links {
				mounts[l.Mount]++
				outputs[l.Output]++
				if !l.Active {
					channels[wiring.Port{Amplifier: l.Amplifier, Channel: l.AmpChannel}]++
				}
			}
			for _, n := range mounts {
				assert.Equal(t, 1, n)
			}
			for _, n := range outputs {
				assert.Equal(t, 1, n)
			}
			for _, n := range channels {
				assert.Equal(t, 1, n)
			}
			for _, mount := range m.Mounts {
				assert.Equal(t, 1, mounts[mount])
			}
		}

		// Two mounts on one existing channel always clash.
		for i, a := range m.Links {
			for _, b := range m.Links[:i] {
				p := wiring.Port{Amplifier: a.Amplifier, Channel: a.AmpChannel}
				exists := slices.ContainsFunc(m.Amps, func(amp wiring.Amp) bool {
					return amp.Name == p.Amplifier && p.Channel >= 1 && p.Channel <= amp.Channels
				})
				if exists && !a.Active && !b.Active && a.Mount != b.Mount && b.Amplifier == p.Amplifier && b.AmpChannel == p.Channel {
					assert.True(t, slices.ContainsFunc(r.Clashes, func(f wiring.Finding) bool {
						return f.Port == p && (f.Fault == wiring.ChannelShared || f.Fault == wiring.HalfOfPair)
					}), "%v", p)
				}
			}
		}

		// The order of the links changes no finding but its order.
		turned := m
		turned.Links = slices.Clone(m.Links)
		slices.Reverse(turned.Links)
		back := report(t, turned)
		assert.ElementsMatch(t, sorted(r.Clashes), sorted(back.Clashes))
		assert.ElementsMatch(t, sorted(r.Gaps), sorted(back.Gaps))
		assert.Equal(t, r.SpareChannels, back.SpareChannels)
		assert.Equal(t, r, report(t, m), "the same map, the same report")
	})
}

// sorted is findings as texts with their mounts in order.
func sorted(findings []wiring.Finding) []string {
	texts := make([]string, len(findings))
	for i, f := range findings {
		f.Mounts = slices.Sorted(slices.Values(f.Mounts))
		texts[i] = f.String()
	}
	return texts
}

func TestLabels(t *testing.T) {
	m := house()
	m.Links[1].Cable = "C01"
	labels, err := m.Labels()
	require.NoError(t, err)
	var text []string
	for _, l := range labels {
		lines := l.Lines()
		text = append(text, strings.Join(lines[:], " | "))
	}
	assert.Equal(t, []string{
		"C02 M+030 | at Amp 1 ch 1 | to M+030",
		"C02 M+030 | at M+030 | from Amp 1 ch 1",
		"C01 M-030 | at Amp 1 ch 2 | to M-030",
		"C01 M-030 | at M-030 | from Amp 1 ch 2",
		"C03 M+000 | at Amp 2 ch 1+2 | to M+000",
		"C03 M+000 | at M+000 | from Amp 2 ch 1+2",
		"C04 U+045 | at Amp 1 ch 4 | to U+045",
		"C04 U+045 | at U+045 | from Amp 1 ch 4",
		"C05 LFE1 | at output 4 | to LFE1",
		"C05 LFE1 | at LFE1 | from output 4",
	}, text)
}

func TestLabelsLeaveOutLinksWithoutASource(t *testing.T) {
	m := house()
	m.Links[0].AmpChannel = 0
	m.Links[1].Amplifier = "Amp 9"
	m.Links[4].Output = 0
	labels, err := m.Labels()
	require.NoError(t, err)
	require.Len(t, labels, 4)
	assert.Equal(t, "M+000", labels[0].Channel)
}

func TestLabelsNumberAmplifiersWithLongNames(t *testing.T) {
	m := house()
	m.Amps[1].Name = "Power amplifier, upper"
	m.Links[2].Amplifier = m.Amps[1].Name
	labels, err := m.Labels()
	require.NoError(t, err)
	assert.Equal(t, "A1 ch 1", labels[0].From)
	assert.Equal(t, "A2 ch 1+2", labels[4].From)
}

func TestLabelsRefuseNamesThatDoNotFit(t *testing.T) {
	for _, r := range []struct {
		spoil  func(m *wiring.ChannelMap)
		naming string
	}{
		{func(m *wiring.ChannelMap) { m.Links[1].Mount = "a mount of sixteen" }, "link 2 mount"},
		{func(m *wiring.ChannelMap) { m.Links[1].Cable = "123456789" }, "link 2 cable"},
		{func(m *wiring.ChannelMap) { m.Links[1].Cable = "C\n1" }, "link 2 cable"},
		{func(m *wiring.ChannelMap) { m.Links[1].Cable = "\xff" }, "link 2 cable"},
		{func(m *wiring.ChannelMap) { m.Links[0].Cable, m.Links[1].Cable = "C1", "C1" }, "link 2 cable"},
		{func(m *wiring.ChannelMap) { m.Amps[0].Name = "Amp\t1" }, "amplifier 1"},
	} {
		m := house()
		r.spoil(&m)
		_, err := m.Labels()
		require.ErrorIs(t, err, wiring.ErrLabel)
		assert.ErrorContains(t, err, r.naming)
	}
}

func TestLabelsFitAndAreUnique(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		name := func(most int, what string) string {
			return rapid.StringMatching(fmt.Sprintf(`[A-Za-zÄ+\-]{1,%d}`, most)).Draw(t, what)
		}
		m := wiring.ChannelMap{Outputs: wiring.MaxPorts, Amps: []wiring.Amp{{Name: name(20, "amp"), Channels: wiring.MaxPorts}}}
		ids := map[string]bool{}
		for range rapid.IntRange(1, 30).Draw(t, "links") {
			l := wiring.Link{
				Mount: name(wiring.MaxMountName, "mount"), Output: rapid.IntRange(1, wiring.MaxPorts).Draw(t, "output"),
				Amplifier: m.Amps[0].Name, AmpChannel: rapid.IntRange(1, wiring.MaxPorts-1).Draw(t, "channel"),
				Bridged: rapid.Bool().Draw(t, "bridged"), Active: rapid.Bool().Draw(t, "active"),
			}
			if id := rapid.SampledFrom([]string{"", "C01", "C02", "C03", "X"}).Draw(t, "cable"); !ids[id] {
				l.Cable = id
				ids[id] = id != ""
			}
			m.Links = append(m.Links, l)
		}
		labels, err := m.Labels()
		require.NoError(t, err)
		require.Len(t, labels, 2*len(m.Links))
		seen := map[string]int{}
		for i, l := range labels {
			for _, line := range l.Lines() {
				assert.LessOrEqual(t, utf8.RuneCountInString(line), wiring.LabelLine, line)
			}
			seen[l.ID]++
			assert.LessOrEqual(t, utf8.RuneCountInString(l.ID), wiring.MaxCableID)
			other := labels[i^1]
			assert.Equal(t, []string{l.ID, l.From, l.To, l.Channel}, []string{other.ID, other.From, other.To, other.Channel})
			assert.NotEqual(t, l.End, other.End)
		}
		for id, n := range seen {
			assert.Equal(t, 2, n, id)
		}
		again, err := m.Labels()
		require.NoError(t, err)
		assert.Equal(t, labels, again)
	})
}

func TestCautionsNameTheirSource(t *testing.T) {
	topics := map[string]bool{}
	for _, c := range wiring.Cautions() {
		assert.False(t, topics[c.Topic], c.Topic)
		topics[c.Topic] = true
		assert.NotEmpty(t, c.Text, c.Topic)
		assert.NotEmpty(t, c.Source, c.Topic)
		assert.NotEmpty(t, c.Mark, c.Topic)
	}
	assert.Contains(t, wiring.LocalCode, "authority having jurisdiction")
}

func BenchmarkChannelMapCheck(b *testing.B) {
	m := large(500)
	for b.Loop() {
		if _, err := m.Check(); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkLabels(b *testing.B) {
	m := large(500)
	for b.Loop() {
		if _, err := m.Labels(); err != nil {
			b.Fatal(err)
		}
	}
}
