package stat

// OneOfTwo is the standard error, as a share of the difference, where two
// readings are possible and one was taken: ±1.96 of it holds the other.
const OneOfTwo = 0.52
