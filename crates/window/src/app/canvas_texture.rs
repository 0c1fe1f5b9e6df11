//! The canvas on the graphics device.

/// A texture that holds the canvas's pixels as they are.
pub(super) struct CanvasTexture {
    pub texture: wgpu::Texture,
    size: (u32, u32),
}

impl CanvasTexture {
    /// A texture of some size in pixels, its contents undefined.
    pub fn new(device: &wgpu::Device, size: (u32, u32)) -> Self {
        let texture = device.create_texture(&wgpu::TextureDescriptor {
            label: Some("canvas"),
            size: extent(size),
            mip_level_count: 1,
            sample_count: 1,
            dimension: wgpu::TextureDimension::D2,
            format: wgpu::TextureFormat::Rgba8Unorm,
            usage: wgpu::TextureUsages::TEXTURE_BINDING | wgpu::TextureUsages::COPY_DST,
            view_formats: &[],
        });
        Self { texture, size }
    }

    /// Width and height in pixels.
    pub fn size(&self) -> (u32, u32) {
        self.size
    }

    /// Writes every pixel: red, green, blue, opacity, row by row.
    pub fn write(&self, queue: &wgpu::Queue, rgba: &[u8]) {
        let layout = wgpu::TexelCopyBufferLayout {
            offset: 0,
            bytes_per_row: Some(self.size.0 * 4),
            rows_per_image: Some(self.size.1),
        };
        queue.write_texture(self.texture.as_image_copy(), rgba, layout, extent(self.size));
    }
}

fn extent((width, height): (u32, u32)) -> wgpu::Extent3d {
    wgpu::Extent3d { width, height, depth_or_array_layers: 1 }
}
