//! Reading a painted window back, pixel for pixel.

use super::WindowError;
use super::surface::SURFACE;
use image::RgbImage;

/// Bytes a pixel of the surface.
const PIXEL: u32 = 4;

/// Paints into a texture of `size` and reads it back.
pub(super) fn capture(
    device: &wgpu::Device,
    queue: &wgpu::Queue,
    (width, height): (u32, u32),
    paint: impl FnOnce(&mut wgpu::CommandEncoder, &wgpu::TextureView),
) -> Result<RgbImage, WindowError> {
    let size = wgpu::Extent3d { width, height, depth_or_array_layers: 1 };
    let texture = device.create_texture(&wgpu::TextureDescriptor {
        label: Some("captured window"),
        size,
        mip_level_count: 1,
        sample_count: 1,
        dimension: wgpu::TextureDimension::D2,
        format: SURFACE,
        usage: wgpu::TextureUsages::RENDER_ATTACHMENT | wgpu::TextureUsages::COPY_SRC,
        view_formats: &[],
    });
    let row = (width * PIXEL).next_multiple_of(wgpu::COPY_BYTES_PER_ROW_ALIGNMENT);
    let buffer = device.create_buffer(&wgpu::BufferDescriptor {
        label: Some("captured window"),
        size: u64::from(row) * u64::from(height),
        usage: wgpu::BufferUsages::COPY_DST | wgpu::BufferUsages::MAP_READ,
        mapped_at_creation: false,
    });
    let mut encoder = device.create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
    paint(&mut encoder, &texture.create_view(&wgpu::TextureViewDescriptor::default()));
    let layout = wgpu::TexelCopyBufferLayout { offset: 0, bytes_per_row: Some(row), rows_per_image: None };
    let target = wgpu::TexelCopyBufferInfo { buffer: &buffer, layout };
    encoder.copy_texture_to_buffer(texture.as_image_copy(), target, size);
    queue.submit([encoder.finish()]);

    let lost = |words: &str| WindowError::Lost(format!("the window cannot be read back: {words}"));
    let (sender, receiver) = std::sync::mpsc::channel();
    buffer.slice(..).map_async(wgpu::MapMode::Read, move |mapped| {
        // Whoever asked waits for it below.
        let _ = sender.send(mapped);
    });
    device.poll(wgpu::PollType::wait_indefinitely()).map_err(|error| lost(&error.to_string()))?;
    let mapped = receiver.recv().map_err(|error| lost(&error.to_string()))?;
    mapped.map_err(|error| lost(&error.to_string()))?;
    let bytes = buffer.slice(..).get_mapped_range();
    let pixel = |x: u32, y: u32| {
        let at = (y * row + x * PIXEL) as usize;
        image::Rgb([bytes[at + 2], bytes[at + 1], bytes[at]])
    };
    Ok(RgbImage::from_fn(width, height, pixel))
}
