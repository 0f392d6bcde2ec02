package scene

// A broadcaster is what is known of a station beforehand.
type broadcaster struct {
	name     string
	kHz      float64
	azimuth  float64 // degrees
	distance float64 // km
	level    float64 // dBµV/m: the median field outdoors when the path is at its best
	from, to float64 // hours, UTC
}

// broadcasters are the broadcasters of the simulated sky, all invented.
var broadcasters = []broadcaster{
	{"Radio Aldmoor", 5920, 62, 1200, 45, 17, 6},
	{"Voice of Brenvik", 5935, 49, 3100, 38, 0, 24},
	{"Corvalle International", 5950, 91, 900, 22, 14, 2},
	{"Dunhaven Broadcasting", 5960, 219, 700, 30, 0, 24},
	{"Radio Eskmark World", 5970, 296, 900, 19, 0, 24},
	{"Fjellby Calling", 5995, 228, 4200, 19, 5, 21},
	{"Radio Gorstan", 6010, 167, 1500, 36, 5, 21},
	{"Voice of Halmira", 6040, 94, 5600, 44, 16, 3},
	{"Istrelle International", 6070, 24, 5600, 20, 14, 2},
	{"Jorunda Broadcasting", 6100, 50, 700, 38, 14, 2},
	{"Radio Kelvane World", 6130, 57, 5600, 19, 5, 21},
	{"Lomeria Calling", 6170, 6, 1900, 34, 4, 23},
	{"Radio Marstrup", 6190, 91, 5600, 47, 0, 24},
	{"Voice of Nordhall", 7215, 26, 2400, 42, 15, 24},
	{"Ostravia International", 7225, 253, 2400, 30, 15, 24},
	{"Pellworth Broadcasting", 7235, 62, 900, 34, 0, 24},
	{"Radio Quenza World", 7255, 338, 4200, 41, 16, 3},
	{"Rovaska Calling", 7265, 15, 700, 33, 15, 24},
	{"Radio Sundermark", 7285, 175, 3100, 36, 14, 2},
	{"Voice of Tavolia", 7295, 217, 5600, 20, 16, 3},
	{"Ulverna International", 7325, 354, 1500, 19, 0, 24},
	{"Vestmere Broadcasting", 7345, 323, 450, 19, 16, 3},
	{"Radio Wolmark World", 7365, 146, 5600, 22, 4, 23},
	{"Xanthera Calling", 7375, 74, 900, 30, 5, 21},
	{"Radio Yllmere", 7415, 59, 700, 32, 0, 24},
	{"Voice of Zarnova", 9410, 39, 4200, 29, 0, 24},
	{"Arkesund International", 9460, 261, 2400, 42, 4, 23},
	{"Belmoora Broadcasting", 9510, 214, 1500, 34, 0, 24},
	{"Radio Cindermoor World", 9520, 274, 1900, 35, 0, 24},
	{"Dovrelund Calling", 9530, 57, 2400, 41, 15, 24},
	{"Radio Elmgate", 9550, 319, 3100, 39, 5, 21},
	{"Voice of Farrowick", 9610, 339, 900, 38, 15, 24},
	{"Glenmarsh International", 9630, 310, 7300, 30, 16, 3},
	{"Hvitasker Broadcasting", 9680, 148, 7300, 15, 15, 24},
	{"Radio Ilmenora World", 9690, 72, 1900, 20, 0, 24},
	{"Jasperholm Calling", 9720, 289, 1900, 35, 14, 2},
	{"Radio Kornvale", 9740, 31, 4200, 24, 16, 3},
	{"Voice of Lindquay", 9760, 35, 3100, 36, 0, 24},
	{"Mossrand International", 9770, 229, 4200, 34, 14, 2},
	{"Nettlebay Broadcasting", 9860, 215, 7300, 18, 4, 23},
	{"Radio Orrinmoor World", 9870, 294, 5600, 40, 16, 3},
	{"Pinemarch Calling", 9880, 33, 5600, 33, 0, 24},
	{"Radio Quillhaven", 11735, 4, 7300, 40, 14, 2},
	{"Voice of Ramsfell", 11750, 92, 1200, 49, 16, 3},
	{"Silverstrand International", 11760, 19, 1900, 40, 5, 21},
	{"Tornedahl Broadcasting", 11810, 120, 1200, 45, 16, 3},
	{"Radio Umberfield World", 11830, 126, 1900, 24, 0, 24},
	{"Varsholm Calling", 11900, 262, 1200, 45, 0, 24},
	{"Radio Wetherby Strand", 11930, 257, 1900, 29, 0, 24},
	{"Voice of Ysterby", 11950, 207, 4200, 23, 0, 24},
	{"Zandermoor International", 11980, 43, 1900, 33, 0, 24},
	{"Ambervale Broadcasting", 12020, 194, 2400, 41, 0, 24},
	{"Radio Blackfen World", 12080, 220, 1200, 25, 0, 24},
	{"Crowmoor Calling", 12090, 28, 1200, 19, 14, 2},
	{"Radio Dustholm", 13580, 200, 7300, 49, 16, 3},
	{"Voice of Emberlo", 13645, 265, 1200, 38, 4, 23},
	{"Fennmark International", 13700, 277, 1200, 26, 15, 24},
	{"Greyvik Broadcasting", 13720, 193, 1200, 46, 5, 21},
	{"Radio Hollowmere World", 13740, 16, 7300, 29, 5, 21},
	{"Inverloch Sand Calling", 13810, 275, 1900, 47, 0, 24},
	{"Radio Juniperhus", 15340, 243, 1200, 30, 0, 24},
	{"Voice of Kestrelmoor", 15360, 230, 4200, 37, 0, 24},
	{"Larkdown International", 15395, 97, 5600, 34, 14, 2},
	{"Mirefold Broadcasting", 15470, 261, 1900, 39, 17, 6},
	{"Radio Northquay World", 15555, 150, 5600, 49, 0, 24},
	{"Otterholm Calling", 15565, 219, 4200, 41, 17, 6},
	{"Radio Plovermoor", 15575, 225, 1200, 37, 4, 23},
	{"Voice of Reedham Sund", 15730, 324, 1200, 29, 17, 6},
}

// beacons send carriers without a programme: a beacon in an amateur band and a time signal, as plans list them.
var beacons = []broadcaster{
	{"beacon", 14100, 118, 1500, 34, 0, 24},
	{"time signal", 15000, 84, 2400, 40, 0, 24},
}
