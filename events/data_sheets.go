package events

// SheetDevelopedData is one stay in a developer.
type SheetDevelopedData struct {
	_                 struct{} `is:"stream=sheet"`
	Sheet             string   `json:"sheet,omitempty" is:"sheet default=waiting-sheet"`
	Bath              string   `json:"bath,omitempty" is:"ref=bath default=developer-in-use"`
	TimeS             float64  `json:"time_s" is:"num >0 <=86400"`
	TempC             *float64 `json:"temp_c,omitempty" is:"num >=-10 <=100"`
	By                string   `json:"by,omitempty" is:"one=time|inspection|factor"`
	TimeOfAppearanceS *float64 `json:"time_of_appearance_s,omitempty" is:"num >0 <=86400"`
	RockS             *float64 `json:"rock_s,omitempty" is:"num >=0 <=86400"`
	Text              string   `json:"text,omitempty" is:"text"`
	Clock             string   `json:"clock,omitempty" is:"entry clocked"`
	Timed             string   `json:"timed,omitempty" is:"one=planned|measured clocked"`
	Carried
}

// SheetRinsedData is one rinse or stop between developer and fixer.
type SheetRinsedData struct {
	_     struct{} `is:"stream=sheet"`
	Sheet string   `json:"sheet,omitempty" is:"sheet default=unrinsed-sheet"`
	Bath  string   `json:"bath,omitempty" is:"ref=bath"`
	TimeS *float64 `json:"time_s,omitempty" is:"num >0 <=86400"`
	Text  string   `json:"text,omitempty" is:"text"`
	Clock string   `json:"clock,omitempty" is:"entry clocked"`
	Timed string   `json:"timed,omitempty" is:"one=planned|measured clocked"`
	Carried
}

// SheetFixedData is one stay in a fixer; a second one adds to the first.
type SheetFixedData struct {
	_     struct{} `is:"stream=sheet"`
	Sheet string   `json:"sheet,omitempty" is:"sheet default=unfixed-sheet"`
	Bath  string   `json:"bath,omitempty" is:"ref=bath default=fixer-in-use"`
	TimeS float64  `json:"time_s" is:"num >0 <=86400"`
	TempC *float64 `json:"temp_c,omitempty" is:"num >=-10 <=100"`
	RockS *float64 `json:"rock_s,omitempty" is:"num >=0 <=86400"`
	Text  string   `json:"text,omitempty" is:"text"`
	Clock string   `json:"clock,omitempty" is:"entry clocked"`
	Timed string   `json:"timed,omitempty" is:"one=planned|measured clocked"`
	Carried
}

// SheetWashedData is one wash: so many changes of so much water, or running water for so long.
type SheetWashedData struct {
	_        struct{} `is:"stream=sheet"`
	Sheet    string   `json:"sheet,omitempty" is:"sheet default=unwashed-sheet"`
	Changes  *int     `json:"changes,omitempty" is:"count >0 <=1000"`
	VolumeML *float64 `json:"volume_ml,omitempty" is:"num >0 <=1000000"`
	SoakS    *float64 `json:"soak_s,omitempty" is:"num >0 <=86400"`
	Together *int     `json:"together,omitempty" is:"count >0 <=1000"`
	RunningS *float64 `json:"running_s,omitempty" is:"num >0 <=864000"`
	Aid      string   `json:"aid,omitempty" is:"word"`
	TempC    *float64 `json:"temp_c,omitempty" is:"num >=-10 <=100"`
	Bath     string   `json:"bath,omitempty" is:"ref=bath"`
	Text     string   `json:"text,omitempty" is:"text"`
	Clock    string   `json:"clock,omitempty" is:"entry clocked"`
	Timed    string   `json:"timed,omitempty" is:"one=planned|measured clocked"`
	Carried
}

// SheetDriedData says that a sheet is dry.
type SheetDriedData struct {
	_     struct{} `is:"stream=sheet"`
	Sheet string   `json:"sheet,omitempty" is:"sheet default=last-sheet"`
	Text  string   `json:"text,omitempty" is:"text"`
	Carried
}

// SheetTonedData is one stay in a toner.
type SheetTonedData struct {
	_     struct{} `is:"stream=sheet"`
	Sheet string   `json:"sheet,omitempty" is:"sheet default=last-sheet"`
	Bath  string   `json:"bath,omitempty" is:"ref=bath default=toner-in-use"`
	TimeS *float64 `json:"time_s,omitempty" is:"num >0 <=86400"`
	Text  string   `json:"text,omitempty" is:"text"`
	Carried
}

// SheetWorkedData is handwork on a sheet.
type SheetWorkedData struct {
	_     struct{} `is:"stream=sheet"`
	Sheet string   `json:"sheet,omitempty" is:"sheet default=last-sheet"`
	How   string   `json:"how" is:"one=spotted|pencilled|waxed|trimmed|flattened|bleached"`
	Text  string   `json:"text,omitempty" is:"text"`
	Carried
}

// SheetTestedData is a test for what was left in a sheet, or a look at it for one suspect of what spoiled it: clear is not it,
// bad is it.
type SheetTestedData struct {
	_       struct{} `is:"stream=sheet"`
	Sheet   string   `json:"sheet,omitempty" is:"sheet default=last-sheet"`
	Test    string   `json:"test" is:"one=hypo|silver|look"`
	Result  string   `json:"result" is:"one=clear|trace|bad"`
	Suspect string   `json:"suspect,omitempty" is:"word"`
	Text    string   `json:"text,omitempty" is:"text"`
	Carried
}

// Density are three densities read on a sheet; Mid is of the tone that was read.
type Density struct {
	Min *float64 `json:"min,omitempty"` // the least
	Mid *float64 `json:"mid,omitempty"` // of the tone that was read
	Max *float64 `json:"max,omitempty"` // the greatest
}

// SheetJudgedData is what the eye says of a sheet. Stops is the change in this sheet's exposure that the eye asks for,
// + = more.
type SheetJudgedData struct {
	_        struct{} `is:"stream=sheet"`
	Sheet    string   `json:"sheet,omitempty" is:"sheet default=sheet-to-judge"`
	Verdict  string   `json:"verdict" is:"one=keep|redo|reject"`
	Symptoms []string `json:"symptoms,omitempty" is:"symptoms"`
	Stops    *float64 `json:"stops,omitempty" is:"stops >=-20 <=20"`
	Density  *Density `json:"density,omitempty" is:"density"`
	Step     *int     `json:"step,omitempty" is:"count >=0 <=1000"`
	Wet      *bool    `json:"wet,omitempty" is:"flag"`
	Border   string   `json:"border,omitempty" is:"one=clean|grey"`
	Text     string   `json:"text,omitempty" is:"text"`
	Carried
}

// SheetAttachedData names a scan or photograph of a sheet by its digest.
type SheetAttachedData struct {
	_        struct{} `is:"stream=sheet"`
	Sheet    string   `json:"sheet,omitempty" is:"sheet default=last-sheet"`
	SHA256   string   `json:"sha256" is:"hex64"`
	Media    string   `json:"media" is:"word"`
	Ending   string   `json:"ending,omitempty" is:"word"`
	Bytes    int64    `json:"bytes" is:"count >0 <=1000000000000"`
	Of       string   `json:"of,omitempty" is:"one=negative|inverted|print"`
	WidthPX  *int     `json:"width_px,omitempty" is:"count >0 <=1000000"`
	HeightPX *int     `json:"height_px,omitempty" is:"count >0 <=1000000"`
	Carried
}

// SheetDeliveredData hands a sheet over, for an order where somebody asked for it. As says that it was not the sheet that went,
// but its scan, or a print that was made from the scan; the sheet stays.
type SheetDeliveredData struct {
	_        struct{} `is:"stream=sheet"`
	Sheet    string   `json:"sheet,omitempty" is:"sheet default=last-sheet"`
	To       string   `json:"to,omitempty" is:"sitter default=orderer optional"`
	Order    string   `json:"order,omitempty" is:"ref=order default=order-wanted optional"`
	As       string   `json:"as,omitempty" is:"one=scan|scan-print"`
	Price    *float64 `json:"price,omitempty" is:"num >=0 <=1000000000"`
	Currency string   `json:"currency,omitempty" is:"currency"`
	Text     string   `json:"text,omitempty" is:"text"`
	Carried
}

func (SheetDevelopedData) Kind() Kind { return SheetDeveloped }
func (SheetRinsedData) Kind() Kind    { return SheetRinsed }
func (SheetFixedData) Kind() Kind     { return SheetFixed }
func (SheetWashedData) Kind() Kind    { return SheetWashed }
func (SheetDriedData) Kind() Kind     { return SheetDried }
func (SheetTonedData) Kind() Kind     { return SheetToned }
func (SheetWorkedData) Kind() Kind    { return SheetWorked }
func (SheetTestedData) Kind() Kind    { return SheetTested }
func (SheetJudgedData) Kind() Kind    { return SheetJudged }
func (SheetAttachedData) Kind() Kind  { return SheetAttached }
func (SheetDeliveredData) Kind() Kind { return SheetDelivered }

// SheetReversedData is a step by which a sheet becomes a positive between its two developments: the bleach, the clearing
// bath, the second exposure to light.
type SheetReversedData struct {
	_     struct{} `is:"stream=sheet"`
	Sheet string   `json:"sheet,omitempty" is:"sheet default=last-sheet"`
	Stage string   `json:"stage" is:"one=bleach|clear|expose"`
	Bath  string   `json:"bath,omitempty" is:"ref=bath default=reversal-bath optional"`
	TimeS *float64 `json:"time_s,omitempty" is:"num >0 <=86400"`
	TempC *float64 `json:"temp_c,omitempty" is:"num >=-10 <=100"`
	Text  string   `json:"text,omitempty" is:"text"`
	Carried
}

func (SheetReversedData) Kind() Kind { return SheetReversed }
