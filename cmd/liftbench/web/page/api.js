// The questions that the page asks its server.

/** An answer that is an error: what to do, and which control or file is at fault. */
export class ApiError extends Error {
  /** @param {any} body @param {number} status */
  constructor(body, status) {
    super(body?.error ?? `The server answered with status ${status}.`);
    this.status = status;
    this.key = body?.key ?? null;
    this.file = body?.file ?? null;
  }
}

/** @typedef {Record<string, File>} Files   by part: machine, field, log, states, and zone, a text */

/**
 * Asks with a setting, and with the user's files if there are any. A busy
 * server is asked again.
 * @param {string} path
 * @param {import("./link.js").Setting} setting
 * @param {Files} files
 * @param {AbortSignal} [signal]
 */
export async function ask(path, setting, files, signal) {
  const response = await post(path, setting, files, signal);
  return response.json();
}

/**
 * Asks for a crossing of a drive by the name that the server keeps it under,
 * and with setting and files only when it is kept no longer.
 * @param {string} drive
 * @param {number} crossing
 * @param {import("./link.js").Setting} setting
 * @param {Files} files
 * @param {AbortSignal} signal
 * @param {() => boolean} newer   whether a newer drive is on its way: then null for one that is kept no longer
 */
export async function askCloseup(drive, crossing, setting, files, signal, newer) {
  const path = `api/closeup?crossing=${crossing}`;
  if (!drive) return ask(path, setting, files, signal);
  try {
    return await ask(`${path}&drive=${drive}`, {}, {}, signal);
  } catch (e) {
    if (!(e instanceof ApiError && e.status === GONE)) throw e;
    if (newer()) return null; // which took its place on the server: nobody waits for the old one
    return ask(path, setting, files, signal);
  }
}

const GONE = 410;

/**
 * Asks for a file to be saved.
 * @param {string} path
 * @param {import("./link.js").Setting} setting
 * @param {Files} files
 */
export async function askFile(path, setting, files) {
  const response = await post(path, setting, files);
  return response.blob();
}

/** What the page is made of. */
export async function askPage() {
  const response = await fetch("api/page");
  if (!response.ok) throw await errorOf(response);
  return response.json();
}

/** The files that the server was started with. @param {string[]} names @returns {Promise<File[]>} */
export async function askGiven(names) {
  const files = [];
  for (const [i, name] of names.entries()) {
    const response = await fetch(`api/given/${i}`);
    if (!response.ok) throw await errorOf(response);
    files.push(new File([await response.blob()], name));
  }
  return files;
}

const TRIES = 4;

async function post(path, setting, files, signal) {
  const own = Object.entries(files);
  for (let tried = 1; ; tried++) {
    /** @type {RequestInit} */
    const request = { method: "POST", signal };
    if (own.length === 0) {
      request.headers = { "Content-Type": "application/json" };
      request.body = JSON.stringify(setting);
    } else {
      const form = new FormData();
      form.set("set", JSON.stringify(setting));
      for (const [part, file] of own) form.set(part, file, file.name);
      request.body = form;
    }
    const response = await fetch(path, request);
    if (response.ok) return response;
    if (response.status !== 503 || tried === TRIES) throw await errorOf(response);
    await pause(1000 * (Number(response.headers.get("Retry-After")) || 0.3), signal);
  }
}

async function errorOf(response) {
  const body = await response.json().catch(() => null);
  return new ApiError(body, response.status);
}

function pause(ms, signal) {
  return new Promise((resolve, reject) => {
    const id = setTimeout(resolve, ms);
    signal?.addEventListener("abort", () => {
      clearTimeout(id);
      reject(signal.reason);
    }, { once: true });
  });
}
