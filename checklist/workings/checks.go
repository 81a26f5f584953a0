package workings

import (
	"fmt"
	"math"
	"strings"

	"hangtrue/checklist/judge"
	"hangtrue/checklist/plan"
	"hangtrue/compute/gauge"
	"hangtrue/compute/tape"
	"hangtrue/compute/wiring"
)

// Checks holds what follows from a plan against what the plan asks: the readings of
// its survey against each other and the box, the channel map without clashes or gaps, cables as long as their way, and the level asked at
// the primary listening position. What cannot be worked out is a check of its own.
func Checks(p *plan.Plan) []judge.Check {
	var checks []judge.Check
	if sheet := Survey(p); sheet != nil {
		checks = append(checks, sheet.Checks...)
	}
	if sheet, err := Feeds(p); err != nil {
		checks = append(checks, untold("feeds", "Feeds", err))
	} else {
		checks = append(checks, channelMap(sheet))
		for _, f := range sheet.Feeds {
			checks = append(checks, route(p, f)...)
		}
	}
	sheet, err := Sound(p)
	if err != nil {
		return append(checks, untold("sound", "Level", err))
	}
	for _, h := range sheet.Channels {
		checks = append(checks, headroom(h)...)
	}
	return checks
}

func condition(name, title, says, source string, v gauge.Verdict) judge.Check {
	return judge.Check{Name: name, Title: title, Unit: judge.Condition, Verdict: v, Says: says, Source: source}
}

func untold(name, title string, err error) judge.Check {
	return condition(name, title, "It cannot be worked out: "+err.Error()+".", "this program's own rule", gauge.Unsure)
}

// channelMap is one check for the whole map: a clash anywhere can silence or harm
// something elsewhere.
func channelMap(sheet *FeedSheet) judge.Check {
	var says []string
	for _, list := range [][]wiring.Finding{sheet.Clashes, sheet.Gaps} {
		for _, f := range list {
			says = append(says, f.String()+".")
		}
	}
	verdict := gauge.Outside
	if len(says) == 0 {
		verdict = gauge.Within
		says = append(says, fmt.Sprintf("Every mount has a channel of its own; %d amplifier channels and %d outputs are spare.", len(sheet.SpareChannels), len(sheet.SpareOutputs)))
	}
	return condition("feeds.map", "Channel map", strings.Join(says, " "), "this program's own rule: one output, one channel, one loudspeaker", verdict)
}

// route doubts a cable that is shorter than a way along the room's edges.
func route(p *plan.Plan, f Feed) []judge.Check {
	if f.Estimate <= 0 {
		return nil
	}
	c := judge.Check{
		Name: "feeds.route", Title: "Cable as long as its way", Subject: f.Channel, Unit: judge.Metre, Measured: f.Route, Target: f.Estimate,
		Low: f.Estimate, High: math.Inf(1), Verdict: gauge.Within, Source: "the shortest way along the edges of the box room, without slack; worked out here",
	}
	if f.Short {
		c.Verdict = gauge.Unsure
		c.Says = fmt.Sprintf("Along the room's edges it is about %s.", tape.Format(f.Estimate, p.Units.System()))
		c.Settle = "measure the way the cable will really take, with slack at both ends"
	}
	return []judge.Check{c}
}

// headroom holds the level a channel can reach against the level asked, with the
// bass boost counted where there is one.
func headroom(h Heard) []judge.Check {
	if !h.Asked || h.Unknown != "" {
		return nil
	}
	left := math.Min(h.Headroom, h.BoostLeft)
	c := judge.Check{
		Name: "sound.headroom", Title: "Headroom at the listening position", Subject: h.Channel, Unit: judge.Decibel, Measured: left, Target: 0,
		Low: 0, High: math.Inf(1), Verdict: gauge.Within, Figures: h.Figures,
		Source: "direct sound in a free field; the level asked is the plan's own",
	}
	if math.Round(left*1e6) < 0 {
		c.Verdict = gauge.Outside
		c.Says = fmt.Sprintf("It is %.1f dB short of the level asked: %.0f W would be needed.", -left, h.Needed)
		c.Correction = "a louder loudspeaker, a stronger amplifier, less bass boost, or less level"
	}
	return []judge.Check{c}
}
