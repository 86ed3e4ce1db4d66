// Whether the devices of the climate do what they are told, judged by what the air does: for any
// law.
//
// The observer (tent_observer.h) takes every device at its word, and what the word is wrong by
// turns up in the sources E and H that it finds. What they should be is known from the hours
// before, by day and by night: a reference at 1 kPa, which moves only while nothing is in doubt.
// Each doubt has a signature s, what it would add to (E, H):
//
//   fan dead             rho (Q - Ql) (w - wroom, cp (T - Troom))    Q as told, Ql leakage
//   dehumidifier dead    c (D, -W)                                   c part of the last minutes
//   told dehumidifier welded  (1 - c) (-D, W), while it is told to stop   D, W its water and heat
//   humidifier dry       m (-M, lambda M)                            m part of the last minutes
//   told light stuck on       day less night, in the dark
//
// and the residual r = (E, H) less reference is weighed for it by the log-likelihood ratio of two
// hypotheses, it is so and it is not, in units of noise sigma:
//
//   d score / dt = (r . s - |s|^2 / 2) / 5 min
//
// A doubt stands when its score has reached 12 (odds of 160,000 to 1 were the noise normal; model
// errors are not, so their size is in sigma), which takes 10 minutes at least, and is over when the
// score is back at 6. A doubt that stands is in the observer's model: its residual is then r + s.
// Saturated air, a lost room, a flood with its wet quarter of an hour, and half an hour after a
// light edge give no evidence. A light sensor over 200 lx in the dark decides in two minutes.
//
// Times, sigma and the score are choices tried on simulated tents; no published source.
#pragma once

#include "daemon/core/climate.h"

namespace neap {

// lx. A tent with less is dark: a choice, far over a crack of daylight and far under any lamp.
constexpr double kDark = 200;

Doubts standing_doubts(const LawMemory& memory);

// The view with each device in doubt as it is, not as it is told: what cannot be relied on is not
// fitted, what cannot be stopped runs. Laws, observer and diagnosis go by it.
ClimateView as_it_is(const ClimateView& told, const Doubts& doubts);

// Takes in what the observer made of its latest sample; `told` is the view as commanded. To be
// called once a sample, before the law decides, so that a doubt and its answer are one scan's.
void weigh_devices(const ClimateView& told, LawMemory& memory);

// What devices in doubt are asked for: a fan vents, what does not work is tried steadily while the
// air wants it, and nothing works against what cannot be stopped. Changes on new samples only.
void answer_doubts(const ClimateView& told, const Doubts& doubts, ClimateAsk& ask);

// What is known of the devices stays when the law changes.
void carry_doubts(const LawMemory& from, LawMemory& to);

}  // namespace neap
