package judge

import (
	"fmt"
	"strconv"
	"strings"

	"hangtrue/checklist/plan"
	"hangtrue/compute/gauge"
	"hangtrue/compute/tape"
)

// Values of choices whose options come from the plan.
const (
	NoBridges = "none"    // the loudspeaker has no links
	Nothing   = "nothing" // no loudspeaker was heard, or it could not be told
)

// Feed is the value that stands for an amplifier's channel, or for a processor's
// output when no amplifier is named.
func Feed(amplifier string, channel int) string {
	if amplifier == "" {
		return "output " + strconv.Itoa(channel)
	}
	return amplifier + " channel " + strconv.Itoa(channel)
}

// PlannedFeed is the feed the plan gives a mount.
func PlannedFeed(m *plan.Mount) string {
	if m.Amplifier == "" {
		return Feed("", m.Output)
	}
	return Feed(m.Amplifier, m.AmpChannel)
}

// condition is a check without numbers: it holds, or Says tells what to do.
func condition(name, title string, holds bool, says string) Check {
	c := Check{Name: name, Title: title, Unit: Condition, Verdict: gauge.Within, Source: projectRule}
	if !holds {
		c.Verdict, c.Says = gauge.Outside, says
	}
	return c
}

// unsure is a condition that nobody could tell: says what is missing, settle what to do.
func unsure(name, title, says, settle string) Check {
	c := condition(name, title, false, says)
	c.Verdict, c.Settle = gauge.Unsure, settle
	return c
}

// plain is an error as a person may read it: without the packages that found it.
func plain(err error) string { return packages.Replace(err.Error()) }

var packages = strings.NewReplacer("fixing: ", "", "gauge: ", "", "judge: ", "", "place: ", "", "plan: ", "", "rack: ", "", "sound: ", "", "wiring: ", "")

// barred makes a failed check one that no concession may pass.
func barred(c Check) Check {
	c.Barred = true
	return c
}

const projectRule = "this program's own rule"

// isolateHow: cables and links are worked on with the amplifiers dead.
func isolateHow(c Case) []Check {
	how := c.Chosen["how"]
	return []Check{barred(condition("isolate.how", "Amplifiers isolated", how == "unplugged" || how == "locked" || how == "absent",
		"The amplifiers are not isolated. Unplug them, or lock their circuit off."))}
}

// markOnHand: nothing is drilled for a loudspeaker that may turn out different.
func markOnHand(c Case) []Check {
	return []Check{condition("mark.on_hand", "Loudspeaker and bracket on hand", c.Chosen["on_hand"] == "here",
		"Wait until both are here: the hole pattern of what arrives may differ.")}
}

// studsHidden: somebody looked, and what was found keeps its distance.
func studsHidden(c Case) []Check {
	how, what := c.Chosen["looked"], c.Chosen["found"]
	looked := barred(condition("studs.hidden looked", "Looked for cables and pipes", how == "detector" || how == "opened",
		"Look for cables and pipes before anything is drilled."))
	found := barred(condition("studs.hidden found", "Cables and pipes", what == "nothing" || what == "clear",
		"Something is there and it is not clear what. Find out, or move the mount."))
	if what != "clear" {
		return []Check{looked, found}
	}
	found.Source = "this program's own rule: stop when something lies within 50 mm of a hole"
	readings := c.Measured["hazard_um"]
	if len(readings) == 0 {
		found.Verdict, found.Says = gauge.Outside, "Give the distance from the nearest hole to what was found."
		return []Check{looked, found}
	}
	found.Unit, found.Measured = Metre, metres(readings[0])
	found.Target, found.Low, found.High = hazardDistance, hazardDistance, inf
	if readings[0] < micrometres(hazardDistance) {
		keep := hazardDistance
		if c.system() == tape.Imperial {
			keep = 2 * 0.0254 // 50 mm on a tape of sixteenths would read less than that
		}
		found.Verdict = gauge.Outside
		found.Says = fmt.Sprintf("Only %s from the nearest hole. Keep %s, or move the mount.",
			tape.FormatSmall(found.Measured, c.system()), tape.FormatSmall(keep, c.system()))
	}
	return []Check{looked, found}
}

// hazardDistance is the least distance in metres from a hole to a known cable or
// pipe: this program's own rule, no source.
const hazardDistance = 0.050

// drillProof: the bracket carried four times the weight before the loudspeaker goes on.
func drillProof(c Case) []Check {
	says := "Pull on the bracket with four times the weight, and say whether it held."
	if c.Chosen["proof"] == "moved" {
		says = "It moved. Take it down, and choose another fixing or another spot."
	}
	check := barred(condition("drill.proof", "Bracket pulled", c.Chosen["proof"] == "held", says))
	check.Source = "mounting tests hold four times the weight for a minute (published test practice); pulling by hand is a screening aid"
	return []Check{check}
}

// wireFeed: the amplifier channel is the plan's.
func wireFeed(c Case) []Check {
	planned, feed := PlannedFeed(c.Mount), c.Chosen["feed"]
	says := fmt.Sprintf("Connected to %s; the plan says %s.", feed, planned)
	if feed == "" {
		says = "Say what it is connected to; the plan says " + planned + "."
	}
	return []Check{condition("wire.feed", "Fed from", feed == planned, says)}
}

// wireLabels: both ends can be told apart later.
func wireLabels(c Case) []Check {
	return []Check{condition("wire.labels", "Labels", c.Chosen["labels"] == "both",
		"Label both ends before the wall is closed.")}
}

// hangRetained: a hung loudspeaker is locked, and one overhead has a second tether.
func hangRetained(c Case) []Check {
	got := c.Chosen["retained"]
	switch {
	case c.Mount.Bracket == "":
		return []Check{barred(condition("hang.retained", "Retained", got == "standing", "By the plan this loudspeaker stands. Say that it does, or tell the lead."))}
	case overhead(c):
		return []Check{barred(condition("hang.retained", "Retained", got == "tethered", "What hangs overhead is locked and has a second, independent tether as well."))}
	}
	return []Check{barred(condition("hang.retained", "Retained", got == "locked" || got == "tethered", "Lock it on its bracket before anything else."))}
}

// polarityResult: plus moves the cone outward.
func polarityResult(c Case) []Check {
	check := condition("polarity.result", "Polarity", c.Chosen["result"] == "right",
		"Reversed. Swap the two conductors at one end, and test again.")
	if result := c.Chosen["result"]; result != "right" && result != "reversed" {
		return []Check{unsure("polarity.result", "Polarity", "It could not be told which way the cone moves.",
			"record an impulse, or use the battery with somebody watching the cone")}
	}
	return []Check{check}
}

// polaritySource: the sound came from this mount and no other.
func polaritySource(c Case) []Check {
	heard := c.Chosen["from"]
	check := condition("polarity.source", "Sound came from", heard == c.Mount.Channel,
		fmt.Sprintf("The sound came from %s. Look at the amplifier channel and the labels.", heard))
	if heard == Nothing || heard == "" {
		return []Check{unsure("polarity.source", "Sound came from", unheard, playAgain)}
	}
	return []Check{check}
}

const (
	unheard   = "Nothing was heard, or it could not be told from where."
	playAgain = "play it again with somebody standing at the loudspeaker"
)

// channelsHeard: every output reaches the loudspeaker the plan gives it.
func channelsHeard(c Case) []Check {
	var checks []Check
	for _, m := range c.Plan.Mounts {
		heard := c.Chosen["heard/"+m.Channel]
		check := condition("channels.heard", m.Channel, heard == m.Channel,
			fmt.Sprintf("What belongs to %s came from %s. Look at the amplifier channel and the labels.", m.Channel, heard))
		if heard == Nothing || heard == "" {
			check = unsure("channels.heard", m.Channel, unheard, playAgain)
		}
		check.Subject = m.Channel
		checks = append(checks, check)
	}
	return checks
}

// rackAir: the air path is free.
func rackAir(c Case) []Check {
	return []Check{condition("rack.air", "Air", c.Chosen["air"] == "free", "Clear the way in and out before anything runs warm.")}
}
