// Runs a Go test binary built for GOOS=js GOARCH=wasm in the page, with the
// module's files to read. Resolves with its exit code and what it printed.
globalThis.gotest = async (wasm, folder, args) => {
  let printed = '';
  const decoder = new TextDecoder();
  const files = new Map(); // open ones: {body, at}
  const made = new Map(); // by path: files that the tests made themselves, such as an Example's output
  const creates = 64;
  let last = 100;
  const wrong = (code) => Object.assign(new Error(code), { code });
  const about = (size) => ({ dev: 0, ino: 0, mode: 0o100644, nlink: 1, uid: 0, gid: 0, rdev: 0, size, blksize: 4096, blocks: 0, atimeMs: 0, mtimeMs: 0, ctimeMs: 0, isDirectory: () => false });
  const get = async (path) => {
    if (made.has(path)) return made.get(path);
    const response = await fetch(`/file/${path.startsWith('/') ? path.slice(1) : folder + path}`);
    if (!response.ok) throw wrong('ENOENT');
    return { body: new Uint8Array(await response.arrayBuffer()) };
  };
  const answer = (promise, callback) => promise.then((value) => callback(null, value), (error) => callback(error));
  Object.assign(globalThis.fs, {
    constants: { O_WRONLY: 1, O_RDWR: 2, O_CREAT: creates, O_TRUNC: 512, O_APPEND: 1024, O_EXCL: 128, O_DIRECTORY: 65536 },
    writeSync(fd, buffer) {
      printed += decoder.decode(buffer);
      return buffer.length;
    },
    write(fd, buffer, offset, length, position, callback) {
      const part = buffer.subarray(offset, offset + length);
      const open = files.get(fd);
      if (!open) return callback(null, this.writeSync(fd, part));
      const from = position ?? open.at;
      const longer = new Uint8Array(Math.max(open.file.body.length, from + length));
      longer.set(open.file.body);
      longer.set(part, from);
      open.file.body = longer;
      if (position === null) open.at = from + length;
      callback(null, length);
    },
    open(path, flags, mode, callback) {
      if (flags & creates && !made.has(path)) made.set(path, { body: new Uint8Array() });
      answer(get(path).then((file) => { files.set(++last, { file, at: 0 }); return last; }), callback);
    },
    read(fd, buffer, offset, length, position, callback) {
      const open = files.get(fd);
      if (!open) return callback(wrong('EBADF'));
      const from = position ?? open.at;
      const part = open.file.body.subarray(from, from + length);
      buffer.set(part, offset);
      if (position === null) open.at = from + part.length;
      callback(null, part.length);
    },
    stat(path, callback) { answer(get(path).then(({ body }) => about(body.length)), callback); },
    lstat(path, callback) { answer(get(path).then(({ body }) => about(body.length)), callback); },
    fstat(fd, callback) { callback(null, about(files.get(fd)?.file.body.length ?? 0)); },
    close(fd, callback) { files.delete(fd); callback(null); },
    unlink(path, callback) { made.delete(path); callback(null); },
  });
  globalThis.process.cwd = () => `/${folder}`;
  const go = new globalThis.Go();
  go.argv = ['go.test', ...args];
  let code = -1;
  go.exit = (given) => { code = given; };
  const { instance } = await WebAssembly.instantiateStreaming(fetch(wasm), go.importObject);
  await go.run(instance);
  return { code, printed };
};
