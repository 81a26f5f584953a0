package judge

// functions are the checks a step template may name.
var functions = map[string]Func{
	"survey.size":     surveySize,
	"survey.square":   surveySquare,
	"rack.air":        rackAir,
	"isolate.how":     isolateHow,
	"mark.on_hand":    markOnHand,
	"mark.spot":       markSpot,
	"mark.zone":       markZone,
	"mark.clear":      markClear,
	"level.line":      levelLine,
	"studs.hidden":    studsHidden,
	"drill.proof":     drillProof,
	"wire.feed":       wireFeed,
	"wire.labels":     wireLabels,
	"hang.retained":   hangRetained,
	"hang.slip":       hangSlip,
	"hang.angles":     hangAngles,
	"hang.height":     hangHeight,
	"hang.distance":   hangDistance,
	"hang.pair":       hangPair,
	"hang.tilt":       hangTilt,
	"hang.aim":        hangAim,
	"polarity.result": polarityResult,
	"polarity.source": polaritySource,
	"channels.heard":  channelsHeard,
}
