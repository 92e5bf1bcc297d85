package events

// OrderTakenData is what somebody wants made: so many prints, of a size where it was said, a scan, or both; of one picture,
// or of whatever comes of a session. Due is the day by which. Paid says that all of the price was paid when it was taken.
type OrderTakenData struct {
	_        struct{} `is:"stream=order"`
	Order    string   `json:"order,omitempty" is:"name=order default=next-order"`
	Sitter   string   `json:"sitter" is:"sitter"`
	Picture  string   `json:"picture,omitempty" is:"ref=picture"`
	Prints   *int     `json:"prints,omitempty" is:"count >0 <=1000"`
	Scan     *bool    `json:"scan,omitempty" is:"flag"`
	WidthMM  *float64 `json:"width_mm,omitempty" is:"num >=10 <=2000"`
	HeightMM *float64 `json:"height_mm,omitempty" is:"num >=10 <=2000"`
	Due      string   `json:"due,omitempty" is:"date"`
	Price    *float64 `json:"price,omitempty" is:"num >=0 <=1000000000"`
	Currency string   `json:"currency,omitempty" is:"currency"`
	Paid     *bool    `json:"paid,omitempty" is:"flag"`
	Text     string   `json:"text,omitempty" is:"text"`
	Carried
}

// OrderPaidData is money that came in for an order, all of it or a part.
type OrderPaidData struct {
	_        struct{} `is:"stream=order"`
	Order    string   `json:"order" is:"ref=order"`
	Price    float64  `json:"price" is:"num >0 <=1000000000"`
	Currency string   `json:"currency,omitempty" is:"currency"`
	Text     string   `json:"text,omitempty" is:"text"`
	Carried
}

// OrderClosedData says that nothing more is waited for: all of it was delivered, or it was withdrawn.
type OrderClosedData struct {
	_     struct{} `is:"stream=order"`
	Order string   `json:"order" is:"ref=order"`
	Ended string   `json:"ended" is:"one=delivered|withdrawn"`
	Text  string   `json:"text,omitempty" is:"text"`
	Carried
}

func (OrderTakenData) Kind() Kind  { return OrderTaken }
func (OrderPaidData) Kind() Kind   { return OrderPaid }
func (OrderClosedData) Kind() Kind { return OrderClosed }

// SheetStoredData says where a sheet is kept from now on: an album, a box, a sleeve.
type SheetStoredData struct {
	_     struct{} `is:"stream=sheet"`
	Sheet string   `json:"sheet,omitempty" is:"sheet default=last-sheet"`
	Where string   `json:"where" is:"text"`
	Carried
}

// SilverRecoveredData is silver that came back out of exhausted fixer and waste paper, and what was paid for it.
type SilverRecoveredData struct {
	_        struct{} `is:"stream=book"`
	Grams    float64  `json:"grams" is:"num >0 <=1000000"`
	To       string   `json:"to,omitempty" is:"text"`
	Price    *float64 `json:"price,omitempty" is:"num >=0 <=1000000000"`
	Currency string   `json:"currency,omitempty" is:"currency"`
	Text     string   `json:"text,omitempty" is:"text"`
	Carried
}

func (SheetStoredData) Kind() Kind     { return SheetStored }
func (SilverRecoveredData) Kind() Kind { return SilverRecovered }
