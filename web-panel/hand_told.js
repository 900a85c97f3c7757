// What is to be known of a rig in hand, in words, for whoever looks: whose it is, whose sticks drive it, to whom it is
// offered, what it stands before; and why it cannot be taken, with what to do.

import { list, number, sentence } from "./words.js";

/** Of a rig's status: who may move it. */
export function ownerText({ owner }, model) {
  return `owner ${owner ? model.whom(owner) : "nobody"}`;
}

/** Whose sticks drive a rig in hand, to whom it is offered, and whether it is being given back; nothing of one that is not. */
export function handText({ hand }, model) {
  if (!hand) return "";
  const sticks = hand.sticks === hand.client ? "by its owner’s own sticks" : `by the sticks of ${model.whom(hand.sticks)}`;
  if (hand.let_go) return "Let go of: it comes to rest, and is nobody’s then.";
  const offered = hand.offered ? ` Offered to ${model.whom(hand.offered)}, who has not taken it over yet.` : "";
  return `${hand.survey ? "In hand for a survey, driven slowly" : "In hand, driven"} ${sticks}.${offered}`;
}

/** What keeps a rig in hand. To whoever drives it also what to let go of. */
export function keeps({ near, interlock, way_out: wayOut, waits, let_go: letGo }, drives) {
  const told = [];
  if (near) told.push(`In the way: ${list(near.bodies)}, ${number(near.distance, 2)} m apart.`);
  if (interlock) told.push(`Kept by the interlock “${interlock}”.`);
  if (wayOut) told.push(sentence(wayOut));
  if (waits?.length && !letGo) {
    told.push(drives ? `Let go first: ${list(waits)}.` : `The stick has to be let go first: ${list(waits)}.`);
  }
  return told;
}

/** Why an operator cannot take this rig in hand now, and what to do; null where nothing is known that forbids it. */
export function whyNot({ owner, hand }, model) {
  if (!owner) return null;
  // A cue, the preset or a take.
  if (!hand) return `${sentence(`${owner} moves it`)} Take it in hand once that is done or stopped.`;
  if (hand.let_go) return "It comes to rest. Take it in hand once it stands.";
  if (!model.isMe(hand.client)) return `Ask ${hand.client} to hand it over to ${model.ownName()}, or to give it back.`;
  return hand.survey ? "This panel has it in hand for a survey. Close that first." : null;
}
