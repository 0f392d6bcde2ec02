package rtlsdr

// driverSaid gives what the driver has printed since it was last asked; nothing where
// standard error was not caught. The driver reports some things there and nowhere else,
// above all that a tuner does not lock.
var driverSaid = func() string { return "" }

// notLocked is what the driver says where the tuner's synthesiser does not lock:
// "[R82XX] PLL not locked!", "[E4K] PLL not locked …".
const notLocked = "PLL not locked"
