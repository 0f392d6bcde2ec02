package doubt

// About a ranking.
const (
	NoReference        Kind = "the reference was not measured in this segment: nothing to compare with"
	NoInterval         Kind = "%s: an interval needs %d, so that nothing is told apart"
	SlowDrift          Kind = "floors drift against each other more slowly than %s can show: no interval; another night would tell more"
	LeftBetweenStates  Kind = "up to %s a setup left out: %s"
	NotRewired         Kind = "survey %d: the plan has %s %s in the second half, and nothing was measured so: it ended before, or nobody changed it; nothing is told of them"
	OtherStates        Kind = "no state of the noise sources was met both before and after half time: what sources did is in what changed then"
	NoCarrier          Kind = "no carrier was heard often enough to compare SNR by"
	FewCarriers        Kind = "only %s: what holds for so few stations and their directions need not hold for the segment"
	NoStation          Kind = "%s heard, and none is known to be a station: nothing to compare SNR by"
	LittleOnAir        Kind = "too little is on the air through it or the reference to compare by"
	NothingOnAir       Kind = "too little is on the air to compare by"
	NoneListed         Kind = "none of the frequencies that the plan lists was heard often enough"
	RoundFarTooLong    Kind = "round %d lasts %.0f h: what it compares was heard at different times; import nights into surveys of their own, with import --survey"
	LongRounds         Kind = "rounds last up to %s: fading does not cancel within them"
	CutDifferently     Kind = "readings of it were cut differently: carriers are compared where all overlap, %s, and each floor is that of its own cut"
	LocalLines         Kind = "%s off the 5 kHz raster set aside as local"
	OwnLines           Kind = "%s left out: the receiver's own, heard with a terminator in place of the antenna, or not to be told from one"
	CombLines          Kind = "%s at the multiples of a noise source's spacing left out"
	LineAtCentre       Kind = "a strong line stood at the centre of recordings: a station there cannot be told from the receiver's own DC offset, and did not count; tune beside it, by 10 kHz and more"
	UnprovenLines      Kind = "%s left out, on no raster of broadcasters: a station keeps its frequency and fades by itself, and these did not show it"
	ControlLines       Kind = "%s left out: heard nearly as well with a terminator in place of the antenna"
	HoursLines         Kind = "%s left out, on and off with a noise source"
	Unmeasured         Kind = "%.0f %% of the carriers' powers are missing, not measured by force: the poorer setup may look better than it is"
	Overloaded         Kind = "%s left out"
	Imaged             Kind = "%s may hold images (nyquist-image): what is heard there may stand at 28.8 MHz − f, or be FM; a filter before the receiver keeps it out"
	WithoutFloor       Kind = "%s without a floor left out: too little of the segment was free"
	GainChanged        Kind = "%s left out: the gain changed within a visit by an unknown amount%s"
	TunedElsewhere     Kind = "%s is not compared here: it is tuned to %s"
	AllLeftOut         Kind = "all its readings were left out: not compared"
	NoCommonRound      Kind = "never in a round with the reference: not compared"
	NoStrongCarrier    Kind = "no carrier is strong through it or the reference: not compared"
	HearsNone          Kind = "it hears none of %s that the reference hears: at least %.0f dB behind, no figure"
	ReferenceHearsNone Kind = "the reference hears none of %s that it hears: at least %.0f dB ahead, no figure"
	SomeRounds         Kind = "in %s of %s together with the reference"
	ManyInSomeRounds   Kind = "%s in %s of %s together with the reference"
	UnderNoise         Kind = "%d of %s under the noise through it or the reference; their part leans on the others"
	LimitedFloors      Kind = "most floors through it or the reference are the receiver's own noise, or its amplifier's: its floor ranks nobody, and its SNR says as much of these as of the antenna"
	UnknownGain        Kind = "its gain is not known against the reference's: SNR compares, levels do not%s"
	LimitedRounds      Kind = "in %s only the receiver's own noise, or an amplifier's, was seen through it or the reference: left out of the change of floor"
	UnknownRounds      Kind = "in %s the gain of it or the reference is not known: left out of the changes of signal and floor, which are of the other rounds%s"
	MeasuredStep       Kind = "gain differs from the reference's by a measured step: changes of signal and floor are known to ± %.1f dB"
)

// About what a control tells.
const (
	ControlApart       Kind = "no round in common at gains that compare with %s: what is the feed line's of it is not known"
	ControlAtOtherGain Kind = "%s was not measured at the gain of %s, and own noise does not follow the gain: how far its noise stands under is not known; give it that gain, by a [[gain]] of its own, or run calibrate noise"
	ControlNoise       Kind = "noise through %s is only %s dB under that through %s%s: part of that floor is not the antenna's"
	ControlOwnNoise    Kind = "noise through %s is own noise in most readings: what comes by its feed line or the switch stands at least %s"
	AmplifierNoise     Kind = "noise through %s, whose element is replaced, is only %s dB under that through %s%s: part of that floor is its amplifier's"
	Ingress            Kind = "the feed line to %s brings noise %s dB under that through %s, own noise taken out of both"
	IngressBound       Kind = "the feed line to %s brings noise at least %s dB under that through %s, own noise taken out of both"
	ControlStations    Kind = "%s heard through %s only %s dB weaker than through %s%s: by feed line or switch. Voltages add, so that the level of such a station may err by %s to %s dB; 25 dB would keep it within half a dB"
	ControlAsStrong    Kind = "%s heard through %s, %s dB weaker than through %s%s: by feed line or switch, and what of it is the antenna's cannot be told"
	ControlRange       Kind = " (%s to %s dB over %s)"
	ControlLimit       Kind = "through %s stations come %s dB weaker than through %s: a setup, a null or a rejection beyond that is the feed line's or the switch's"
	ControlLimitBound  Kind = "through %s stations come at least %s dB weaker than through %s: a setup, a null or a rejection beyond that is the feed line's or the switch's"
)

// About an antenna with others in place, and with these removed. The last figure is the setup without them.
const (
	Coupled         Kind = "%s in place changes its signals by %s and its floor by %s: over 1 dB is coupling; %s tells what it hears by itself, is not another antenna and has no rank"
	NotCoupled      Kind = "%s in place changes its signals by %s and its floor by %s: no coupling over 1 dB; %s is not another antenna and has no rank"
	CouplingNotTold Kind = "%s in place changes its signals by %s and its floor by %s: whether that is coupling over 1 dB is not told, more rounds may tell; %s is not another antenna and has no rank"
	CouplingAlone   Kind = "the same antenna was not measured at this placement and bearing with the others in place: whether they couple is not known, and it has no rank"
	CouplingUnknown Kind = "levels with %s in place and removed do not compare, for want of common rounds, of gains that do, or of stations and floors over own noise: whether they couple is not known; %s is not another antenna and has no rank"
)

// About patterns by bearing, and why no null is claimed.
const (
	FewerThanTwo     Kind = "no pattern: fewer than two bearings are left to compare"
	LimitedPattern   Kind = "most floors through it or the reference are the receiver's own noise, or an amplifier's: no pattern of the floor"
	LevelsAgainst    Kind = "levels are against %s: %s"
	NotInItsRounds   Kind = "%s was not measured in the same rounds"
	InFewOfItsRounds Kind = "%s was measured in %d of %s"
	GainsApart       Kind = "its gain and that of %s are not known against each other%s"
	OneBearing       Kind = "%s with one bearing and no reference left out"
	VisitsApart      Kind = "%s left out: the gain is not known against that of the others in the same round%s"
	OneGain          Kind = "; give all its bearings and the reference one gain in the plan, or calibrate the gains"
	GiveGain         Kind = "; where recordings do not tell the gain, give it with import --gain"
	ThinFloor        Kind = "in %d of %s the floor stands less than %.0f dB over the receiver's own noise, or an amplifier's: that is taken out, as measured into a terminator or a dummy; into the antenna it may differ"
	HiddenNull       Kind = "at some bearings mostly the receiver's own noise, or an amplifier's, was seen: the null is deeper than stated"
	OffCurve         Kind = "at %d of %s the level lies off the curve by more than its interval: not the pattern of a loop, or sources came and went"
	NoPattern        Kind = "its levels do not tell a pattern"
	FewBearings      Kind = "%s (opposite ones count once), and a null needs %d"
	WideGap          Kind = "nothing was measured over %.0f° of the half turn, and a null needs bearings %.0f° apart or less"
	FewRoundsForNull Kind = "%s, and a null needs %d"
	Shallow          Kind = "if there is one, it is less than %.0f dB deep: all bearings hear about the same"
	LeakIntoNull     Kind = "a control hears it only %s dB under the peak: no deeper null can be told, and the intervals hold what may leak in"
	LeakPerhaps      Kind = "a control hears it at a gain that does not compare, and labels of gain may err by %.0f dB: no deeper null can be told, and the intervals hold what may leak in; run calibrate level, or give both one [[gain]]"
	LeakUnknown      Kind = "whether a control hears it is not known: gains do not compare; run calibrate level, or give both one gain"
	PerhapsShallow   Kind = "it may be less than %.0f dB deep"
)

// About floors by the hour and pictures.
const (
	AllOverloaded    Kind = "no floor, since every reading is overloaded; lower the gain in the plan, or put a filter or an attenuator before the receiver"
	NoFloorTold      Kind = "no floor could be told in any reading"
	LimitedRows      Kind = "%d of %s of floors by the hour show the receiver's own noise, or an amplifier's, in most readings: the floor from outside is lower, by how much is not known"
	OwnUnknownRows   Kind = "in %d of %s of floors by the hour own noise is not known: levels in dBm are upper bounds; run calibrate noise"
	CorrectedRows    Kind = "%d of %s of floors by the hour stand 3 to 10 dB over the receiver's own noise, or an amplifier's: levels in dBm have it taken out, as measured into a terminator or a dummy; into the antenna it may differ"
	MisfitRows       Kind = "%d of %s of floors by the hour stand more than 1 dB under the receiver's own noise: the calibration is not of this receiver as it was then; calibrate again"
	MisfitControl    Kind = "%d of %s of floors by the hour stand more than 1 dB under the own noise that a control showed: it was not in place, or hears something itself"
	ImagedRows       Kind = "%d of %s of floors by the hour may hold images (nyquist-image): part of their noise may stand at 28.8 MHz − f, or be FM"
	OtherGainRows    Kind = "in %d of %s of floors by the hour own noise was taken at another gain than that beside it, and it does not follow the gain: they compare with no other"
	FigureRows       Kind = "%d of %s of floors by the hour have levels in dBm that rest on an assumed noise figure, not on a generator"
	ExternalFigures  Kind = "Fa is as good as the antenna factor, and as the antenna stands for one on open ground or in free space: 3 dB and more may be wrong indoors; a loop's holds 3.0 dB for noise from all azimuths"
	AmplifierUnknown Kind = "the amplifier's own noise is not known: the floor need not come from outside, and a margin is over the receiver only; measure once with its element replaced"
	FarRows          Kind = "%d of %s of floors by the hour have levels in dBm by a reference over 10 %% away in frequency: the receiver's gain may be another there; run calibrate level near them"
	MovedRows        Kind = "%d of %s of floors by the hour have levels in dBm that moved by up to %.1f dB between two calibrations of the level: the receiver drifted or was changed, and it is not known when"
	LeftOutOfHours   Kind = "%s left out of the floors by the hour: the gain changed within the hour by an unknown amount"
	NoGain           Kind = "no gain of the receiver is known: floors in dBFS/Hz of different hours and setups do not compare"
	RowsApart        Kind = "%d of %s of floors by the hour were taken at a gain that is not known against the others': they compare with no other"
	LeftOutOfPicture Kind = "%s: %s left out of the picture through %s: the gain changed by an unknown amount"
)

// About noise sources.
const (
	CombsOnce      Kind = "%s found once, or of which chance is not ruled out, left out"
	SourceLeaks    Kind = "source %d comes through a control only %s dB weaker than through %s on %s, by feed line or switch: voltages add, so that its strength there may err by %s to %s dB; 25 dB would keep it within half a dB"
	SourceAsStrong Kind = "source %d comes through a control no weaker than through %s on %s, by feed line or switch: what of it is the antenna's cannot be told"
	NotSought      Kind = "no reading holds a measure of interference: none was sought when they were stored, or no channel was free"
)

// About surveys and calibrations.
const (
	SimulatedLeft  Kind = "survey %[1]s is simulated and left out beside real ones; --survey %[1]s shows it"
	SimulatedMany  Kind = "surveys %s are simulated and left out beside real ones; --survey N shows one of them"
	NotEnded       Kind = "survey %d has not ended, or ended without a word: its last round may be incomplete"
	ManySites      Kind = "surveys of %d sites are taken together; choose one with --survey"
	Uncalibrated   Kind = "survey %d: no calibration is of its receiver, %s: its receiver margin is not known"
	TerminatorOff  Kind = "survey %d: in %d of %s noise through %s stands 3 dB and more over what was calibrated: it was not in place, or the calibration is wrong; until that is mended floors may be taken for the receiver's own that are not"
	CurvesApart    Kind = "survey %d: the passband is corrected in its readings %s, in the own noise %s %s: margins over own noise, and levels near it, may err by up to %s"
	CurveGone      Kind = "%s %d: the passband is corrected as calibration %d measured it, and that is not there any more: what was taken out of it is not known"
	Pooled         Kind = "survey %d: %s was repeaked in survey %d before it, and yet is taken for the antenna with which that one began; choose one of them with --survey"
	Impossible     Kind = "survey %d: %s left out: what stands there cannot be; nightfloor database check names them"
	ImpossibleAll  Kind = "%s left out, and what belongs to them: what stands there cannot be; nightfloor database check names them"
	CalibratedLate Kind = "%d of %s that it serves were taken before it: there was none of its kind before them"
	FewCodes       Kind = "%d of %s rest on too few codes: they may be off by 2.5 dB"
	NoiseFigure    Kind = "its levels are as good as the noise figure that was given"
	Products       Kind = "%d of %s held intermodulation: part of what was heard there was made in the receiver"
)
