// What is connected to the receiver's terminal: an antenna, a terminator or a noise
// source, and an attenuator between.
#ifndef STANDIN_FRONT_H
#define STANDIN_FRONT_H

#include "control.h"
#pragma GCC visibility push(hidden)

// front_open tells whether the antenna is connected.
bool front_open(const struct control *c);

// front_noise gives the noise that the receiver amplifies, mW/Hz: what comes in and its
// own. What comes from outside counts so many times; nothing does that is not heard.
double front_noise(const struct control *c, bool heard, double zones);

#pragma GCC visibility pop
#endif
