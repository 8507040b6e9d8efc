/** Whether the screen ignores touches, as in the pocket of a wader. */
export const lock = $state<{ on: boolean }>({ on: false });
