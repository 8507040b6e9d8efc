/** Lengths and weights as they are typed on the keypad. */
import { tenths } from "../checks/measures";

export function unitOf(measure: string): string {
  return measure === "weight" ? "g" : "mm";
}

/** Say what is wrong with a typed length or weight; "" where it can be read. */
export function faultOf(measure: string, digits: string): string {
  try {
    tenths(measure, `${digits} ${unitOf(measure)}`);
    return "";
  } catch (error) {
    return (error as Error).message;
  }
}

export function isReadable(measure: string, digits: string): boolean {
  return faultOf(measure, digits) === "";
}
